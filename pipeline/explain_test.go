package pipeline

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestExplainASyntheticRecording(t *testing.T) {
	sources, _ := demoRuns(t)
	c := DefaultConfig()
	c.Sources = sources
	for _, tt := range []struct{ states, marking string }{
		{"", "the reference annotation of the data set"},
		{"predicted", "the method duration-hmm"},
	} {
		l, err := Explain(context.Background(), c, "af01_mitral", tt.states)
		if err != nil {
			t.Fatal(err)
		}
		if l.Marking != tt.marking || l.Average == nil || l.Average.Cycles < 5 || len(l.View.Wave) == 0 {
			t.Errorf("states %q: marked by %q, average %+v, %d samples", tt.states, l.Marking, l.Average, len(l.View.Wave))
		}
		path := filepath.Join(t.TempDir(), "lesson.html")
		if err := WriteLesson(l, path); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Size() < 50_000 || info.Size() > 1<<20 {
			t.Errorf("the page: %v, %v", info, err)
		}
	}
	for _, tt := range []struct{ recording, states, want string }{
		{"af01_mitrale", "", "af01_mitral"},
		{"af01_mitral", "both", "want reference or predicted"},
	} {
		if _, err := Explain(context.Background(), c, tt.recording, tt.states); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("recording %q, states %q: error %v, want one with %q", tt.recording, tt.states, err, tt.want)
		}
	}
}
