package pages

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

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
		page, err := Explain(context.Background(), c, "t5_mitral", tt.states)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(page.StatesBy, tt.statesBy) || len(report.WholeCycles(page.States)) < 5 || len(page.Sound.Wave) == 0 {
			t.Errorf("states %q: of %q, %d states, %d samples", tt.states, page.StatesBy, len(page.States), len(page.Sound.Wave))
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
		if _, err := Explain(context.Background(), c, tt.recording, tt.states); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("recording %q, states %q: error %v, want one with %q", tt.recording, tt.states, err, tt.want)
		}
	}
}
