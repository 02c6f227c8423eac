package rundir

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/cputime"
)

// What shards and interrupted runs leave is added up, once, and only where it is about
// recordings that are there. Files with other names stay.
func TestCostsAddUp(t *testing.T) {
	dir := t.TempDir()
	part := Cost{Segmenting: 2, Audio: 0.5, Run: 3, Recordings: 4, Clock: cputime.Processor}
	for _, shard := range []config.Shard{{}, {Index: 1, Of: 2}, {Index: 2, Of: 2}, {Index: 2, Of: 2}} {
		if err := LeaveCost(dir, shard, part); err != nil {
			t.Fatal(err)
		}
	}
	stays := filepath.Join(dir, "costs.json")
	if err := os.WriteFile(stays, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := EarlierCost(dir, 16); got.Recordings != 16 || got.Segmenting != 8 || got.Audio != 2 || got.Run != 12 || got.PerHour() != 4 {
		t.Errorf("the sum is %+v", got)
	}
	if got := EarlierCost(dir, 15); got != (Cost{}) {
		t.Errorf("of 15 recordings, which are fewer than the cost is about: %+v", got)
	}
	if err := os.WriteFile(filepath.Join(dir, "cost-1-of-2.json"), []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := EarlierCost(dir, 16); got.Recordings != 12 {
		t.Errorf("with a damaged file: %+v", got)
	}
	if err := LeaveCost(dir, config.Shard{Index: 1, Of: 2}, part); err != nil {
		t.Error(err)
	}
	if err := RemoveCosts(dir); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 || left[0].Name() != "costs.json" {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// The cost of a folder is that of its manifest, and what it is about is said.
func TestReadCost(t *testing.T) {
	dir := t.TempDir()
	if _, found, err := ReadCost(dir); found || err != nil {
		t.Errorf("without a manifest: %v, %v", found, err)
	}
	if err := WriteJSON(filepath.Join(dir, ManifestFile), Manifest{}); err != nil {
		t.Fatal(err)
	}
	if _, found, err := ReadCost(dir); found || err != nil {
		t.Errorf("a manifest without a cost: %v, %v", found, err)
	}
	cost := Cost{Fitting: 3.21, Fits: 2, Segmenting: 1.5, Audio: 0.25, Run: 8, Recordings: 5, Clock: cputime.Processor}
	if err := WriteJSON(filepath.Join(dir, ManifestFile), Manifest{Cost: &cost}); err != nil {
		t.Fatal(err)
	}
	got, found, err := ReadCost(dir)
	if !found || err != nil || got != cost || EarlierCost(dir, 5) != cost {
		t.Errorf("%+v, %v, %v", got, found, err)
	}
	if words, want := got.Words(5), "processor time: 3.2 s for 2 fits, 1.5 s for segmenting 0.25 h of audio (6.0 s per hour), 8.0 s in all"; words != want {
		t.Errorf("%q, want %q", words, want)
	}
	if words := got.Words(7); !strings.HasSuffix(words, "; known of 5 of 7 recordings") {
		t.Errorf("%q", words)
	}
	got.Clock, got.Audio = cputime.Elapsed, 0
	if words := got.Words(5); !strings.Contains(words, "nothing segmented, by the clock") {
		t.Errorf("%q", words)
	}
	if words := (&Cost{}).Words(5); words != "processor time not known" {
		t.Errorf("%q", words)
	}
	if err := os.WriteFile(filepath.Join(dir, ManifestFile), []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := ReadCost(dir); err == nil || !strings.Contains(err.Error(), ManifestFile) {
		t.Errorf("a damaged manifest: %v", err)
	}
}
