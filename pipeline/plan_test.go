package pipeline

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func samplePlan(t *testing.T) Plan {
	t.Helper()
	p := Plan{Tool: "phonocycle test", Stage: "run", Config: DefaultConfig(), Options: []byte(`{"max_rate":220}`),
		Sources: []PlanSource{{Name: "village", Recordings: 130, LayoutDigest: "l", ListDigest: "r"}}}
	if err := p.seal(); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPlanNamesTheFirstDifference(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Plan)
		want   string
	}{
		{"method", func(p *Plan) { p.Config.Method = "shannon-peaks" }, `config.method was "duration-hmm" and is now "shannon-peaks"`},
		{"option", func(p *Plan) { p.Options = []byte(`{"max_rate":200}`) }, "method-options.max-rate was 220 and is now 200"},
		{"tolerance", func(p *Plan) { p.Config.Scoring.Tolerance = Duration(time.Second) }, `config.scoring.tolerance was "60ms" and is now "1s"`},
		{"part size", func(p *Plan) { p.Config.PartSize = 3 }, "config.part-size was 64 and is now 3"},
		{"recordings", func(p *Plan) { p.Sources[0].Recordings = 131 }, "sources[0].recordings was 130 and is now 131"},
		{"model", func(p *Plan) { p.ModelDigest = "m" }, `model-digest was not there and is now "m"`},
	}
	for _, tt := range tests {
		dir := t.TempDir()
		first := samplePlan(t)
		if err := first.settle(dir, false); err != nil {
			t.Fatal(err)
		}
		second := samplePlan(t)
		second.Sources = append([]PlanSource(nil), second.Sources...)
		tt.change(&second)
		if err := second.seal(); err != nil {
			t.Fatal(err)
		}
		err := second.settle(dir, true)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want it to say %q", tt.name, err, tt.want)
		}
	}
}

func TestPlanIgnoresWhatChangesNoByte(t *testing.T) {
	a, b := samplePlan(t), samplePlan(t)
	b.Config.Workers, b.Config.Out, b.Config.Resume, b.Config.Shard = 7, "elsewhere", true, Shard{1, 2}
	if err := b.seal(); err != nil {
		t.Fatal(err)
	}
	if a.Digest != b.Digest {
		t.Error("workers, folder, resume and shard must not change the digest of a plan")
	}
}

func TestPlanRefusesAFolderInUse(t *testing.T) {
	dir := t.TempDir()
	p := samplePlan(t)
	if err := p.settle(dir, false); err != nil {
		t.Fatal(err)
	}
	if err := p.settle(dir, true); err != nil {
		t.Errorf("the same plan could not resume: %v", err)
	}
	if err := p.settle(dir, false); err == nil || !strings.Contains(err.Error(), "--resume") {
		t.Errorf("results of another run: %v", err)
	}
	other := t.TempDir()
	if err := os.Mkdir(filepath.Join(other, "states"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := p.settle(other, true); err == nil || !strings.Contains(err.Error(), "states") {
		t.Errorf("tables without a plan: %v", err)
	}
}

func TestPlanParts(t *testing.T) {
	p := samplePlan(t)
	for _, tt := range []struct{ recordings, want int }{{0, 1}, {1, 1}, {64, 1}, {65, 2}, {128, 2}, {129, 3}} {
		p.Sources[0].Recordings = tt.recordings
		if got := p.parts(); got != tt.want {
			t.Errorf("%d recordings make %d parts, want %d", tt.recordings, got, tt.want)
		}
	}
}
