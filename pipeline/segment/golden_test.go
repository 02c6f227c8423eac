package segment

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth"
)

var updateGolden = flag.Bool("update-golden", false, "write testdata/segment/golden.txt anew")

// Every method on three synthetic hearts, slow, fast and in noise: where each state
// begins, in samples at 1 kHz, beside the true beginnings, against which the file is
// to be read; -update-golden writes it anew after a change that is meant to move a
// boundary.
func TestSegmentationsOfHearts(t *testing.T) {
	var b strings.Builder
	for i, rate := range []float64{58, 96, 132} {
		r := heart(t, rate, uint64(40+i), 5*time.Second, synth.WithNoise(synth.Colours()[i%2], []float64{25, 15, 3}[i]))
		fmt.Fprintf(&b, "%g beats a minute\n  truth: %s\n", rate, beginnings(r.Truth))
		for _, m := range Methods() {
			var file []byte
			if m.Fit != nil {
				var err error
				if file, err = os.ReadFile(filepath.Join("..", "..", "configs", "models", m.Name+".json")); err != nil {
					t.Fatal(err)
				}
			}
			s, err := m.New(m.Defaults(), file)
			if err != nil {
				t.Fatal(err)
			}
			got, err := s.Segment(context.Background(), NewInput(r.Samples))
			if err != nil {
				t.Fatalf("%s at %g a minute: %v", m.Name, rate, err)
			}
			fmt.Fprintf(&b, "  %s, confidence %.4f, exchanged %.4f, cycle %.4f s: %s\n", m.Name, got.Confidence, got.ExchangeProbability, got.CycleLength.Seconds(), beginnings(got.Intervals))
		}
	}
	path := filepath.Join("..", "..", "testdata", "segment", "golden.txt")
	if *updateGolden {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), b.String()); d != "" {
		t.Errorf("%s (− want, + got):\n%s", path, d)
	}
}

// beginnings lists the states with the samples at 1 kHz at which they begin.
func beginnings(list []pcg.Interval) string {
	var parts []string
	for _, iv := range list {
		parts = append(parts, fmt.Sprintf("%v %d", iv.State, pcg.ToSamples(iv.Start, signal.AnalysisRate)))
	}
	return strings.Join(parts, ", ")
}
