package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/source"
)

// checkCost makes sure that the manifest of a folder says what the run cost, of that
// many recordings and with that many fits.
func checkCost(t *testing.T, dir string, recordings, fits int) {
	t.Helper()
	c, found, err := rundir.ReadCost(dir)
	if err != nil || found != (recordings > 0) {
		t.Fatalf("cost %+v, %v, %v; want that of %d recordings", c, found, err, recordings)
	}
	if found && (c.Recordings != recordings || c.Fits != fits || (c.Fitting > 0) != (fits > 0) ||
		!(c.Segmenting > 0 && c.Audio > 0 && c.Run > c.Segmenting+c.Fitting)) {
		t.Errorf("cost %+v; want that of %d recordings and %d fits", c, recordings, fits)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "cost*")); len(left) > 0 {
		t.Errorf("left behind beside a manifest: %v", left)
	}
}

// A run that is interrupted leaves its cost to the one that completes the folder. One
// that is killed cannot, and the manifest says of how many recordings the rest is.
func TestCostOfResumedRuns(t *testing.T) {
	for _, killed := range []bool{false, true} {
		c := crowd(t, 6)
		c.PartSize, c.Workers = 2, 1
		ctx, stop := context.WithCancel(context.Background())
		if _, err := Run(ctx, c, &stopAfter{left: 5, stop: stop}); !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		left := filepath.Join(c.Out, "cost.json")
		var cost rundir.Cost
		content, err := os.ReadFile(left)
		if err = errors.Join(err, json.Unmarshal(content, &cost)); err != nil || cost.Recordings%c.PartSize != 0 || cost.Recordings == 0 {
			t.Fatalf("left by an interrupted run: %+v, %v", cost, err)
		}
		want := 6
		if killed {
			if err := os.Remove(left); err != nil {
				t.Fatal(err)
			}
			want -= cost.Recordings
		}
		c.Resume = true
		r := run(t, c)
		checkCost(t, c.Out, want, 0)
		if text := r.Cost.Words(r.Counts.In); strings.Contains(text, "known of") != killed {
			t.Errorf("killed %v: %q", killed, text)
		}
		run(t, c) // makes nothing
		checkCost(t, c.Out, want, 0)
	}
}

// A merge adds up what the shards cost, and says so where one of them is not known.
func TestCostOfShards(t *testing.T) {
	c := crowd(t, 6)
	c.PartSize, c.Resume = 2, true
	for i := range 3 {
		c.Shard = config.Shard{Index: i + 1, Of: 3}
		run(t, c)
	}
	if err := os.Remove(filepath.Join(c.Out, "cost-2-of-3.json")); err != nil {
		t.Fatal(err)
	}
	r, err := Merge(context.Background(), c.Out, config.Config{Workers: 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	checkCost(t, c.Out, 4, 0)
	if text := r.Cost.Words(r.Counts.In); !strings.HasSuffix(text, "known of 4 of 6 recordings") {
		t.Error(text)
	}
}

// A cross-validation counts its fits apart, and what scores the states of another
// program costs nothing that is worth a line.
func TestCostOfFits(t *testing.T) {
	c := crowd(t, 8) // of two people
	c.Method, c.Folds = "duration-hmm", 2
	crossval(t, c)
	checkCost(t, c.Out, 8, 2)
	scored := elsewhere(t, c)
	if _, err := ScorePredictions(context.Background(), scored, source.Predictions{Path: c.Out}, nil); err != nil {
		t.Fatal(err)
	}
	checkCost(t, scored.Out, 0, 0)
}
