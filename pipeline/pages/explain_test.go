package pages

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/eval/report"
	"phonocycle/pipeline/config"
)

func TestExplainASyntheticRecording(t *testing.T) {
	c := config.Default()
	c.Inputs = []config.Input{demoInput(t)}
	for _, tt := range []struct{ states, statesBy string }{
		{"", "the reference annotation of the data set"},
		{"predicted", "the method duration-hmm, fitted on 151 other people of CirCor "},
	} {
		page, err := Explain(context.Background(), c, ExplainOptions{Recordings: []string{"t5_mitral"}, States: tt.states})
		if err != nil {
			t.Fatal(err)
		}
		if r := page.Recordings[0]; !strings.HasPrefix(r.StatesBy, tt.statesBy) || len(report.WholeCycles(r.States)) < 5 || len(r.Sound.Wave) == 0 {
			t.Errorf("states %q: of %q, %d states, %d samples", tt.states, r.StatesBy, len(r.States), len(r.Sound.Wave))
		}
		path := filepath.Join(t.TempDir(), "page.html")
		if err := WriteTeachingPage(page, path, false); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Size() < 50_000 || info.Size() > 1<<20 {
			t.Errorf("the page: %v, %v", info, err)
		}
	}
	for _, tt := range []struct{ recording, states, want string }{
		{"t5_mitrale", "", "t5_mitral"},
		{"t5_mitral", "both", "want reference or predicted"},
	} {
		if _, err := Explain(context.Background(), c, ExplainOptions{Recordings: []string{tt.recording}, States: tt.states}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("recording %q, states %q: error %v, want one with %q", tt.recording, tt.states, err, tt.want)
		}
	}
}

// What the data set says stands apart from what is measured, in its own words.
func TestLabelsOfATeachingPage(t *testing.T) {
	c := config.Default()
	c.Inputs = []config.Input{demoInput(t)}
	page, err := Explain(context.Background(), c, ExplainOptions{Recordings: []string{"t5_mitral", "t3_aortic"}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][]report.Fact{
		{{Name: "site", Value: "mitral"}, {Name: "age group", Value: "adult"}, {Name: "murmur", Value: "absent"}},
		{{Name: "site", Value: "aortic"}, {Name: "age group", Value: "child"}},
	} {
		labels := page.Recordings[i].Labels
		for _, l := range want {
			if !slices.Contains(labels, l) {
				t.Errorf("%s: labels %v lack %v", page.Recordings[i].Recording, labels, l)
			}
		}
		if slices.ContainsFunc(labels, func(l report.Fact) bool { return l.Value == "" }) {
			t.Errorf("%v: an empty label", labels)
		}
	}
}

// --start and --length choose the stretch of each recording.
func TestStretchOfATeachingPage(t *testing.T) {
	c := config.Default()
	c.Inputs = []config.Input{demoInput(t)}
	ids := []string{"t3_mitral", "t5_mitral"} // 10 s and 4 s long
	for _, tt := range []struct {
		o    ExplainOptions
		from []time.Duration
		want string // in the error
	}{
		{ExplainOptions{Recordings: ids}, []time.Duration{-1, 0}, ""},
		{ExplainOptions{Recordings: ids, Length: 3 * time.Second, Starts: []time.Duration{time.Second}}, []time.Duration{time.Second, time.Second}, ""},
		{ExplainOptions{Recordings: ids, Length: 3 * time.Second, Starts: []time.Duration{7 * time.Second, time.Second}}, []time.Duration{7 * time.Second, time.Second}, ""},
		{ExplainOptions{Recordings: ids, Length: 3 * time.Second, Starts: []time.Duration{2 * time.Second}}, nil, "recording t5_mitral: 3s from 2s on are more than the recording has, which ends at 4.00 s"},
		{ExplainOptions{Recordings: ids, Starts: make([]time.Duration, 3)}, nil, "3 times for --start and 2 recordings"},
		{ExplainOptions{Recordings: ids, Starts: []time.Duration{-1}}, nil, "a recording begins at 0s"},
		{ExplainOptions{Recordings: ids, Length: time.Minute}, nil, "--length 1m0s: want 1s to 30s"},
		{ExplainOptions{Recordings: ids, Quiz: true, Sheet: true}, nil, "--quiz or --sheet, not both"},
		{ExplainOptions{Recordings: make([]string, 5)}, nil, "5 recordings: a page compares at most 4"},
		{ExplainOptions{}, nil, "no recording"},
	} {
		page, err := Explain(context.Background(), c, tt.o)
		if tt.want != "" {
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%+v: error %v, want one with %q", tt.o, err, tt.want)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range page.Recordings {
			if length := min(page.Stretch, r.Length); r.To-r.From != length || tt.from[i] >= 0 && r.From != tt.from[i] {
				t.Errorf("%+v: %s from %v to %v", tt.o, r.Recording, r.From, r.To)
			}
		}
	}
}
