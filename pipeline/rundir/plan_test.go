package rundir

import (
	"os"
	"path/filepath"
	"phonocycle/pipeline/config"
	"strings"
	"testing"
	"time"
)

func samplePlan(t *testing.T) Plan {
	t.Helper()
	p := Plan{Tool: "phonocycle test", Stage: "run", Config: config.Default(), Options: []byte(`{"max_rate":220}`),
		DataSets: []DataSet{{Name: "village", Recordings: 130, LayoutDigest: "l", ListDigest: "r"}}}
	if err := p.Seal(); err != nil {
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
		{"tolerance", func(p *Plan) { p.Config.Scoring.Tolerance = config.Duration(time.Second) }, `config.scoring.tolerance was "0s" and is now "1s"`},
		{"part size", func(p *Plan) { p.Config.PartSize = 3 }, "config.part-size was 64 and is now 3"},
		{"recordings", func(p *Plan) { p.DataSets[0].Recordings = 131 }, "data_sets[0].recordings was 130 and is now 131"},
		{"model", func(p *Plan) { p.ModelDigest = "m" }, `model-digest was not there and is now "m"`},
	}
	for _, tt := range tests {
		dir := t.TempDir()
		first := samplePlan(t)
		if err := first.WriteOrVerify(dir, false); err != nil {
			t.Fatal(err)
		}
		second := samplePlan(t)
		second.DataSets = append([]DataSet(nil), second.DataSets...)
		tt.change(&second)
		if err := second.Seal(); err != nil {
			t.Fatal(err)
		}
		err := second.WriteOrVerify(dir, true)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want it to say %q", tt.name, err, tt.want)
		}
	}
}

func TestPlanIgnoresWhatChangesNoByte(t *testing.T) {
	a, b := samplePlan(t), samplePlan(t)
	b.Config.Workers, b.Config.Out, b.Config.Resume, b.Config.Shard = 7, "elsewhere", true, config.Shard{Index: 1, Of: 2}
	if err := b.Seal(); err != nil {
		t.Fatal(err)
	}
	if a.Digest != b.Digest {
		t.Error("workers, folder, resume and shard must not change the digest of a plan")
	}
}

func TestPlanRefusesAFolderInUse(t *testing.T) {
	dir := t.TempDir()
	p := samplePlan(t)
	if err := p.WriteOrVerify(dir, false); err != nil {
		t.Fatal(err)
	}
	if err := p.WriteOrVerify(dir, true); err != nil {
		t.Errorf("the same plan could not resume: %v", err)
	}
	if err := p.WriteOrVerify(dir, false); err == nil || !strings.Contains(err.Error(), "--resume") {
		t.Errorf("results of another run: %v", err)
	}
	other := t.TempDir()
	if err := os.Mkdir(filepath.Join(other, "states"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(other, "states", "part-000000.parquet"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := p.WriteOrVerify(other, true); err == nil || !strings.Contains(err.Error(), "states") {
		t.Errorf("tables without a plan: %v", err)
	}
}

func TestPlanParts(t *testing.T) {
	p := samplePlan(t)
	for _, tt := range []struct{ recordings, want int }{{0, 1}, {1, 1}, {64, 1}, {65, 2}, {128, 2}, {129, 3}} {
		p.DataSets[0].Recordings = tt.recordings
		if got := p.Parts(); got != tt.want {
			t.Errorf("%d recordings make %d parts, want %d", tt.recordings, got, tt.want)
		}
	}
}
