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
	sets := []struct{ layout, audio, table, reference string }{
		{"plain", "x.wav", "recordings.csv", "x.csv"},
		{"circor", "training_data/1_AV.wav", "training_data.csv", "training_data/1_AV.tsv"},
		{"pascal", "set_a/normal__1.wav", "set_a.csv", "set_a_timing.csv"},
		{"cinc2016", "training-a/a0001.wav", "training-a/REFERENCE.csv", "training-a/a0001_StateAns.csv"},
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
		if ref, err := s.Reference(r, 2000, 5*second); err != nil {
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
