package dataset

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzTables: whatever stands in the tables of a data set, opening it lists the
// recordings with text that tables can hold, and every defect has its place.
func FuzzTables(f *testing.F) {
	f.Add("recording,person,site,take,label\nx,7,AV,2,good\nsub/x,8,,,\n", "0.5,0.6,S1\n", uint8(0))
	f.Add(circorHeader+circorRow("1", "98.0", "Absent", "AV", "2")+circorRow("2", "nan", "Present", "AV", "1.0"), cycleTSV, uint8(1))
	f.Add("a,normal__1.wav,normal,\n", "fname,cycle,sound,location\nset_a/normal__1.wav,1,S1,441\nset_a/normal__1.wav,1,S2,4410\n", uint8(2))
	f.Add("a0001,1\r\na0001,-1\n\"a\"\"\",2\n", "1,S1\n201,systole\n", uint8(3))
	f.Add("\xef\xbb\xbfrecording\n"+strings.Repeat("x", maxLine+1), "\x00", uint8(0))
	f.Add("a0001,1\n", string(matlabFile(f, "scipy_plain_nested.mat")), uint8(4))
	f.Add("a0001,1\n", string(matlabFile(f, "defects.mat")), uint8(4))
	sets := []struct{ layout, audio, table, reference string }{
		{"plain", "x.wav", "recordings.csv", "x.csv"},
		{"circor", "training_data/1_AV.wav", "training_data.csv", "training_data/1_AV.tsv"},
		{"pascal", "set_a/normal__1.wav", "set_a.csv", "set_a_timing.csv"},
		{"cinc2016", "training-a/a0001.wav", "training-a/REFERENCE.csv", "training-a/a0001_StateAns.csv"},
		{"cinc2016", "training-a/a0001.wav", "training-a/REFERENCE.csv", "training-a/a0001_StateAns.mat"},
	}
	f.Fuzz(func(t *testing.T, table, reference string, which uint8) {
		set := sets[int(which)%len(sets)]
		root := t.TempDir()
		for name, content := range map[string]string{set.audio: "2000 5", set.table: table, set.reference: reference} {
			p := filepath.Join(root, filepath.FromSlash(name))
			if err := os.MkdirAll(filepath.Dir(p), 0o700); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(p, []byte(content), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		s := openLayout(t, root, set.layout)
		if len(s.Recordings) != 1 {
			t.Fatalf("%d recordings of one", len(s.Recordings))
		}
		r := &s.Recordings[0]
		for l := range r.Labels.All() {
			if !utf8.ValidString(l.Value) {
				t.Errorf("label %s is %q", l.Name, l.Value)
			}
		}
		if !utf8.ValidString(r.ID + r.Person + r.Site) {
			t.Errorf("recording %+v", r)
		}
		if ref, _, err := s.Reference(r, 2000, 5*second); err != nil {
			if !strings.Contains(err.Error(), r.ID) {
				t.Errorf("error without a place: %v", err)
			}
		} else if err := checkReference(&ref, 5*second); err != nil {
			t.Error(err)
		}
		for i := range s.Defects {
			if s.Defects[i].File == "" {
				t.Errorf("defect without a place: %v", &s.Defects[i])
			}
		}
	})
}

// FuzzPredictions: whatever another program wrote, and whatever its format says
// of it, it is refused with a place or read as intervals within the recording.
func FuzzPredictions(f *testing.F) {
	const seconds = "kind: intervals\npaths: ['{stem}.csv']\nheader: optional\ncolumns: {start: start_s, end: end_s, state: state}\nunit: seconds\n" +
		"states: {S1: S1, systole: systole, S2: S2, diastole: diastole}\n"
	f.Add(seconds, "start_s,end_s,state\n0,0.1,S1\n0.1,0.4,systole\n0.4,0.5,S2\n0.5,1,diastole\n")
	f.Add(strings.ReplaceAll(seconds, "unit: seconds", "unit: samples\nbase: 1\nrate: 50"), "1,6,S1\n6,21,systole\n")
	f.Add("kind: starts\npaths: ['../{stem}.csv']\nunit: samples\nrate: -1\n", "1,S1\n")
	f.Fuzz(func(t *testing.T, format, content string) {
		dir := plant(t, map[string]string{"data/x.wav": "2000 5", "made/x.csv": content, "format.yaml": format, "outside.csv": "0,1,S1\n"})
		s := openLayout(t, filepath.Join(dir, "data"), "plain")
		layout, err := LoadFormat(filepath.Join(dir, "format.yaml"))
		if err != nil {
			if !strings.Contains(err.Error(), "format.yaml") {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		p, err := s.OpenPredictions(filepath.Join(dir, "made"), layout)
		if err != nil {
			if !strings.Contains(err.Error(), dir) {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		defer p.Close()
		got, err := p.Of(&s.Recordings[0], 2000, 5*second)
		if err != nil {
			return
		}
		for i, iv := range got.Intervals {
			if iv.Start < 0 || iv.End <= iv.Start || iv.End > 5*second {
				t.Errorf("interval %d is %v", i, iv)
			}
		}
	})
}
