package dataset

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// starts describes segmentations in samples, a file per recording.
const starts = `kind: starts
paths: ["{id}.txt"]
header: absent
delimiter: comma
columns: {start: 1, state: 2}
unit: samples
base: 1
states: {1: S1, 2: systole, 3: S2, 4: diastole}
`

// together describes segmentations in one table.
const together = `kind: intervals
key: name
match: "{id}"
header: present
columns: {start: from, end: to, state: what}
unit: seconds
states: {1: S1, 2: systole, 3: S2, 4: diastole}
`

// openPredictions opens predictions of the recordings a to h.
func openPredictions(t *testing.T, format string, files map[string]string, at string) (*Set, *Predictions, error) {
	t.Helper()
	layout, err := ParseLayout("two.yaml", []byte(twoReferences))
	if err != nil {
		t.Fatal(err)
	}
	recordings := map[string]string{}
	for _, id := range "abcdefgh" {
		recordings[string(id)+".wav"] = ""
	}
	s, err := Open(plant(t, recordings), layout)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	name := filepath.Join(t.TempDir(), "format.yaml")
	if err := os.WriteFile(name, []byte(format), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := LoadFormat(name)
	if err != nil {
		return s, nil, err
	}
	p, err := s.OpenPredictions(filepath.Join(plant(t, files), at), f)
	if err == nil {
		t.Cleanup(func() { p.Close() })
	}
	return s, p, err
}

// Samples count at the rate of the recording, or at that of the format.
func TestPredictionsOfEachRecording(t *testing.T) {
	for rate, want := range map[int]string{0: "S1 0-100, systole 100-300", 500: "S1 0-400, systole 400-1200"} {
		format := starts
		if rate > 0 {
			format += fmt.Sprintf("rate: %d\n", rate)
		}
		s, p, err := openPredictions(t, format, map[string]string{"a.txt": "1,1\n201,2\n601,3\n", "b.txt": "1,7\n201,2\n"}, "")
		if err != nil {
			t.Fatal(err)
		}
		got, err := p.Of(&s.Recordings[0], 2000, 10*second)
		if err != nil || spans(got.Intervals) != want || len(got.Repairs) > 0 {
			t.Errorf("at %d Hz: %s, repairs %q, %v; want %s", rate, spans(got.Intervals), got.Repairs, err, want)
		}
		if _, err := p.Of(&s.Recordings[1], 2000, 10*second); err == nil || err.Error() != `prediction unusable: b.txt:1: state "7" is none of the layout's codes` {
			t.Errorf("an unknown code: %v", err)
		}
		if _, err := p.Of(&s.Recordings[2], 2000, 10*second); !errors.Is(err, ErrNoPrediction) {
			t.Errorf("a recording without a file: %v", err)
		}
		if len(p.Warnings) > 0 || len(p.Digest) != 64 {
			t.Errorf("warnings %q, digest %q", p.Warnings, p.Digest)
		}
	}
}

// The digest depends on the content of the files that are read and on the format,
// and on nothing else.
func TestDigestOfPredictions(t *testing.T) {
	digest := func(format, a string, more map[string]string) string {
		files := map[string]string{"a.txt": a}
		for name, text := range more {
			files[name] = text
		}
		_, p, err := openPredictions(t, format, files, "")
		if err != nil {
			t.Fatal(err)
		}
		return p.Digest
	}
	const text = "1,1\n201,2\n"
	first := digest(starts, text, nil)
	for name, tt := range map[string]struct {
		digest string
		same   bool
	}{
		"again":          {digest(starts, text, nil), true},
		"another file":   {digest(starts, text, map[string]string{"note.md": "x"}), true},
		"other content":  {digest(starts, "1,1\n202,2\n", nil), false},
		"other format":   {digest(starts+"rate: 2000\n", text, nil), false},
		"one file more":  {digest(starts, text, map[string]string{"b.txt": text}), false},
		"its other name": {digest(starts, text, map[string]string{"c.txt": text}), false},
	} {
		if (tt.digest == first) != tt.same {
			t.Errorf("%s: digest %s, first %s", name, tt.digest, first)
		}
	}
	if digest(starts, text, map[string]string{"b.txt": text}) == digest(starts, text, map[string]string{"c.txt": text}) {
		t.Error("two recordings with one segmentation have the same digest")
	}
}

func TestPredictionsInOneTable(t *testing.T) {
	const text = "name,from,to,what\na,0,0.1,1\na,0.09,0.3,2\nb,0,1,3\n"
	s, p, err := openPredictions(t, together, map[string]string{"all.csv": text}, "all.csv")
	if err != nil {
		t.Fatal(err)
	}
	got, err := p.Of(&s.Recordings[0], 4000, 10*second)
	if err != nil || spans(got.Intervals) != "S1 0-90, systole 90-300" || len(got.Repairs) != 1 || !strings.HasPrefix(got.Repairs[0], "all.csv:3: starts 10 ms before the row of line 2 ends") {
		t.Errorf("a: %s, %q, %v", spans(got.Intervals), got.Repairs, err)
	}
	if got, err := p.Of(&s.Recordings[1], 4000, 10*second); err != nil || spans(got.Intervals) != "S2 0-1000" {
		t.Errorf("b: %s, %v", spans(got.Intervals), err)
	}
}

// A program may mark sounds by points: one time and the sound. They are repaired as
// points of a reference are.
func TestPredictedPoints(t *testing.T) {
	format := strings.NewReplacer("kind: starts", "kind: points", "start: 1", "time: 1", "2: systole, ", "", ", 4: diastole", "").Replace(starts)
	s, p, err := openPredictions(t, format, map[string]string{"a.txt": "401,1\n1001,3\n1001,3\n2001,1\n"}, "")
	if err != nil {
		t.Fatal(err)
	}
	got, err := p.Of(&s.Recordings[0], 2000, 10*second)
	want := []pcg.Point{{At: 200 * time.Millisecond, Sound: pcg.S1}, {At: 500 * time.Millisecond, Sound: pcg.S2}, {At: second, Sound: pcg.S1}}
	if err != nil || !p.Points || !slices.Equal(got.Points, want) || len(got.Intervals) != 0 || len(got.Repairs) != 1 {
		t.Errorf("points %v (%v), intervals %v, repairs %q, %v; want %v", got.Points, p.Points, got.Intervals, got.Repairs, err, want)
	}
	rows := []Row{{1, second, second, "S1"}, {2, 2 * second, 2 * second, "S2"}}
	got, err = RepairRows("p.parquet", rows, true, 10*second)
	if err != nil || !slices.Equal(got.Points, []pcg.Point{{At: second, Sound: pcg.S1}, {At: 2 * second, Sound: pcg.S2}}) {
		t.Errorf("of a table: %v, %v", got.Points, err)
	}
}

// What cannot be meant is refused with its place.
func TestPredictionsRefuse(t *testing.T) {
	table := "name,from,to,what\na,0,0.1,1\n"
	for _, tt := range []struct {
		name, format string
		files        map[string]string
		at, want     string
	}{
		{"points of states", strings.NewReplacer("kind: starts", "kind: points", "start: 1", "time: 1").Replace(starts), map[string]string{"a.txt": "1,1\n"}, "", "states.2: a point marks S1 or S2, not systole"},
		{"negative rate", starts + "rate: -1\n", map[string]string{"a.txt": "1,1\n"}, "", "rate: -1: it is the rate in hertz of times in samples"},
		{"rate of seconds", together + "rate: 1000\n", map[string]string{"all.csv": table}, "all.csv", "rate: 1000: it is the rate in hertz of times in samples"},
		{"no key", starts, map[string]string{"all.csv": table}, "all.csv", "all.csv is one file for all recordings: which column names the recording?"},
		{"no such folder", starts, nil, "nowhere", "predictions "},
		{"no such field", strings.Replace(starts, "{id}.txt", "{ids}.txt", 1), map[string]string{"a.txt": "1,1\n"}, "", `paths[0]: "{ids}.txt": no pattern has a group "ids"`},
		{"a file of no recording", starts, map[string]string{"a.txt": "1,1\n201,2\n", "z.txt": "1,1\n"}, "", "z.txt: "},
		{"a row of no recording", together, map[string]string{"all.csv": table + "z,0,1,1\n"}, "all.csv", "all.csv:3: "},
		{"a missing column", together, map[string]string{"all.csv": strings.Replace(table, "to", "end", 1)}, "all.csv", `all.csv:1: header without a column "to"`},
		{"a row too short", together, map[string]string{"all.csv": "from,to,what,name\n0,1,1,a\n1,2\n"}, "all.csv", "all.csv:3: 2 columns instead of 4"},
		{"nothing", starts, map[string]string{"note.md": ""}, "", "no file belongs to a recording: see paths, key and match in the format"},
		{"no format", "kind: [", nil, "", "format.yaml:"},
	} {
		if _, _, err := openPredictions(t, tt.format, tt.files, tt.at); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
	}
	if _, err := LoadFormat(filepath.Join(t.TempDir(), "none.yaml")); err == nil || !strings.Contains(err.Error(), "none.yaml") {
		t.Errorf("a format that is not there: %v", err)
	}
}

// Warnings of one kind are listed five times and then counted.
func TestPredictionsWarnBriefly(t *testing.T) {
	format := strings.Replace(starts, `["{id}.txt"]`, `["{id}.txt", "{id}.seg"]`, 1)
	for n, want := range map[string]int{"abcde": 5, "abcdefgh": 6} {
		files := map[string]string{}
		for _, id := range n {
			files[string(id)+".txt"], files[string(id)+".seg"] = "1,1\n201,2\n", "1,3\n201,4\n"
		}
		s, p, err := openPredictions(t, format, files, "")
		if err != nil {
			t.Fatal(err)
		}
		if len(p.Warnings) != want || !strings.HasPrefix(p.Warnings[0], "a.seg: ") || want == 6 && !strings.HasSuffix(p.Warnings[5], ": 3 more of these") {
			t.Errorf("%s: warnings %q", n, p.Warnings)
		}
		if got, err := p.Of(&s.Recordings[0], 2000, second); err != nil || spans(got.Intervals) != "S1 0-100" {
			t.Errorf("the first path counts: %s, %v", spans(got.Intervals), err)
		}
	}
}

func TestRepairRowsOfATable(t *testing.T) {
	ms := time.Millisecond
	rows := []Row{{7, 0, 100 * ms, "s1"}, {8, 95 * ms, 300 * ms, "Systole"}, {9, 300 * ms, 300 * ms, "S2"}, {12, 300 * ms, 12 * second, "S2"}}
	got, err := RepairRows("p.parquet", rows, false, 10*second)
	if err != nil || spans(got.Intervals) != "S1 0-95, systole 95-300, S2 300-10000" {
		t.Errorf("%s, %v", spans(got.Intervals), err)
	}
	want := []string{"p.parquet:8: starts 5 ms before the row of line 7 ends at 0.1 s", `p.parquet:9: row of state "S2" has no length at 0.3 s`, "p.parquet:12: end 12 s is after the end of the recording at 10 s"}
	for i := range want {
		if len(got.Repairs) != len(want) || !strings.HasPrefix(got.Repairs[i], want[i]) {
			t.Errorf("repairs %q, want %q", got.Repairs, want)
			break
		}
	}
	for _, tt := range []struct {
		row  Row
		want string
	}{
		{Row{3, 0, second, "S3"}, `prediction unusable: p.parquet:3: state "S3"`},
		{Row{3, second, 0, "S1"}, "prediction unusable: p.parquet:3: end 0 s before start 1 s"},
		{Row{3, -second, second, "S1"}, "prediction unusable: p.parquet:3: "},
	} {
		if _, err := RepairRows("p.parquet", []Row{tt.row}, false, 10*second); err == nil || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%+v: error %v, want %q", tt.row, err, tt.want)
		}
	}
	if got, err := RepairRows("p.parquet", []Row{{1, 0, second, "unannotated"}, {2, second, 2 * second, "S1"}}, false, 0); err != nil || spans(got.Intervals) != "S1 1000-2000" {
		t.Errorf("time not annotated: %s, %v", spans(got.Intervals), err)
	}
}
