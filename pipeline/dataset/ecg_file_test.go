package dataset

import (
	"encoding/binary"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// withECG is a data set with an ECG beside each recording.
const withECG = withStates + `  - name: ecg
    kind: ecg
    paths: ["{dir}/{id}.hea"]
    signal: ECG
    delay: 70ms
    optional: true
`

// header returns that of a record whose ECG has a file of its own.
func header(name string) string {
	return name + " 2 500 10000\n" + name + ".wav 16+44 1 16 0 0 0 0 PCG\n" + name + ".dat 16 1000 16 0 0 0 0 ECG\n"
}

// samples16 returns an ECG as 16-bit samples, 1000 for 1; NaN has a code of its own.
func samples16(x []float64) string {
	var b []byte
	for _, v := range x {
		code := int16(math.MinInt16)
		if !math.IsNaN(v) {
			code = int16(math.Round(1000 * v))
		}
		b = binary.LittleEndian.AppendUint16(b, uint16(code))
	}
	return string(b)
}

// beatFiles returns the files of a data set with the layout withECG.
func beatFiles() map[string]string {
	lost := beatsAt(20, regular(24)...)
	for i := 5 * ecgRate; i < 6*ecgRate; i++ {
		lost[i] = math.NaN()
	}
	return map[string]string{
		"a.wav": "1000 20", "a.hea": header("a"), "a.dat": samples16(beatsAt(20, regular(24)...)),
		"b.wav": "1000 20", "b.hea": header("b"), "b.dat": samples16(lost),
		"c.wav": "1000 20", "c.hea": header("c"), "c.dat": samples16(beatsAt(20, 1, 2, 3)),
		"d.wav": "1000 20", "d.hea": "d 1 2000 40000\nd.wav 16+44 1 16 0 0 0 0 PCG\n",
		"e.wav": "1000 20", "e.hea": header("e"),
		"f.wav": "1000 20", "f.hea": "no header",
		"g.wav": "1000 20",
	}
}

func TestECGOfADataSet(t *testing.T) {
	l, err := ParseLayout("beats.yaml", []byte(withECG))
	if err != nil {
		t.Fatal(err)
	}
	s, err := OpenWith(plant(t, beatFiles()), l, Options{Reference: "ecg"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if len(s.Recordings) != 7 || len(s.Defects) > 0 {
		t.Fatalf("%d recordings, defects %v", len(s.Recordings), s.Defects)
	}
	for i, tt := range []struct {
		points int
		reason string // why there is no reference
		shown  bool   // the ECG can be drawn
		broken string // why it cannot
	}{
		{points: 24, shown: true},
		{points: 23, shown: true},
		{reason: "c.hea: two detectors of R waves agree on 3 beats: at least 8 are needed", shown: true},
		{reason: "d: no reference annotation"},
		{reason: "e.hea: signal file e.dat is not there: fetch it", broken: "e.hea: signal file e.dat is not there: fetch it"},
		{reason: "f.hea: line 1: not a header of a WFDB record", broken: "f.hea: line 1: not a header"},
		{reason: "no reference annotation"},
	} {
		rec := &s.Recordings[i]
		ref, digest, err := s.Reference(rec, 1000, 20*time.Second)
		if tt.reason == "" {
			if err != nil || ref.Kind != pcg.ECGReference || len(ref.Points) != tt.points || len(ref.Intervals)+len(ref.Repairs) > 0 {
				t.Errorf("%s: %d points, %d intervals, kind %q: %v", rec.ID, len(ref.Points), len(ref.Intervals), ref.Kind, err)
			}
			if at := rTime(0.5) + 70*time.Millisecond; ref.Points[0] != (pcg.Point{At: at, Sound: pcg.S1}) {
				t.Errorf("%s: first point %v, want S1 at %v", rec.ID, ref.Points[0], at)
			}
		} else if err == nil || !strings.Contains(err.Error(), tt.reason) {
			t.Errorf("%s: %v, want %q", rec.ID, err, tt.reason)
		}
		again, err := s.ReferenceDigest(rec)
		if again != digest || (digest == "") != (rec.ID == "g") {
			t.Errorf("%s: digest %q, later %q (%v)", rec.ID, digest, again, err)
		}

		e, err := s.ECG(rec)
		switch {
		case tt.shown:
			if err != nil || e.Rate != 500 || len(e.Wave) != 10000 || len(e.RWaves) < 3 || e.File != rec.ID+".hea" {
				t.Errorf("%s: %+v, %v", rec.ID, e, err)
			}
		case tt.broken != "":
			if err == nil || errors.Is(err, ErrNoECG) || !strings.Contains(err.Error(), tt.broken) {
				t.Errorf("%s: the ECG: %v, want %q", rec.ID, err, tt.broken)
			}
		case !errors.Is(err, ErrNoECG):
			t.Errorf("%s: %v, want %v", rec.ID, err, ErrNoECG)
		}
	}
	if ref, _, _ := s.Reference(&s.Recordings[1], 1000, 0); len(ref.Unannotated) != 1 || ref.Unannotated[0].Start != rTime(4.5)+70*time.Millisecond {
		t.Errorf("not annotated: %v, want one second of lost samples", ref.Unannotated)
	}

	// The ECG is drawn whichever reference is chosen, and not where the layout has none.
	states, err := Open(s.Root, l)
	if err != nil {
		t.Fatal(err)
	}
	defer states.Close()
	if e, err := states.ECG(&states.Recordings[0]); err != nil || len(e.RWaves) != 24 || e.RWaves[0] != rTime(0.5) {
		t.Errorf("with the reference %s: %v", states.ReferenceName, err)
	}
	l.References = l.References[:1]
	if _, err := states.ECG(&states.Recordings[0]); !errors.Is(err, ErrNoECG) {
		t.Errorf("a layout without ECG: %v", err)
	}
}

// One header can stand for the sound and for its ECG.
func TestECGInTheRecordOfTheSound(t *testing.T) {
	text := strings.NewReplacer(`include: ["*.wav"]`, "include: [\"*.hea\"]\n  channel: PCG", `\.wav')`, `\.hea')`, `\w+)\.wav`, `\w+)\.hea`).Replace(withECG)
	l, err := ParseLayout("beats.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	all := beatFiles()
	s, err := OpenWith(plant(t, map[string]string{"a.wav": all["a.wav"], "a.hea": all["a.hea"], "a.dat": all["a.dat"]}), l, Options{Reference: "ecg"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if len(s.Recordings) != 1 || s.Recordings[0].Audio != "a.hea" || s.Recordings[0].Reference != "a.hea" {
		t.Fatalf("recordings %+v", s.Recordings)
	}
	if ref, _, err := s.Reference(&s.Recordings[0], 1000, 20*time.Second); err != nil || len(ref.Points) != 24 {
		t.Errorf("%d points: %v", len(ref.Points), err)
	}
}

// The digest of a reference changes with the samples and with the header.
func TestDigestOfAnECG(t *testing.T) {
	l, err := ParseLayout("beats.yaml", []byte(withECG))
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{}
	for name, change := range map[string]func(files map[string]string){
		"as it is":       func(map[string]string) {},
		"another header": func(files map[string]string) { files["a.hea"] += "# a comment\n" },
		"another sample": func(files map[string]string) { files["a.dat"] = "\x01" + files["a.dat"][1:] },
		"a longer file":  func(files map[string]string) { files["a.dat"] += "\x00" },
	} {
		files := beatFiles()
		change(files)
		s, err := OpenWith(plant(t, files), l, Options{Reference: "ecg"})
		if err != nil {
			t.Fatal(err)
		}
		digest, err := s.ReferenceDigest(&s.Recordings[0])
		if err != nil || seen[digest] != "" {
			t.Errorf("%s: digest %q as for %q: %v", name, digest, seen[digest], err)
		}
		seen[digest] = name
		s.Close()
	}
}

func TestKeysOfAnECGReference(t *testing.T) {
	for _, tt := range []struct{ old, new, want string }{
		{"    signal: ECG\n", "", "references[1].signal: missing: which signal of the records is the ECG?"},
		{"    delay: 70ms\n", "", `references[1].delay: "": want the time from the R wave to the middle of S1`},
		{"delay: 70ms", "delay: 70", `beats.yaml:24:12: references[1].delay: "70": want the time`},
		{"delay: 70ms", "delay: -1ms", `references[1].delay: "-1ms": want the time`},
		{"delay: 70ms", "delay: 2s", `references[1].delay: "2s": want the time from the R wave to the middle of S1, from 0s to 1s`},
		{"delay: 70ms", "delay: 70ms\n    unit: seconds", "beats.yaml:25:11: references[1].unit: a reference of kind ecg has no such key"},
		{"delay: 70ms", "delay: 70ms\n    states: {1: S1}", "references[1].states: a reference of kind ecg has no such key"},
		{"    unit: seconds\n", "    unit: seconds\n    signal: ECG\n", "references[0].kind: intervals: signal and delay belong to a reference of kind ecg"},
	} {
		text := strings.Replace(withECG, tt.old, tt.new, 1)
		if text == withECG {
			t.Fatalf("%q is not in the layout", tt.old)
		}
		if _, err := ParseLayout("beats.yaml", []byte(text)); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q in place of %q: %v\nwant %q", tt.new, tt.old, err, tt.want)
		}
	}
}
