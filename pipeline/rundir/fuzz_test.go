package rundir

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
)

// FuzzPlan: whatever stands in an output folder as its plan, reading it fails or
// gives what can be compared.
func FuzzPlan(f *testing.F) {
	p := Plan{Tool: Tool, Stage: "run", Config: config.Default(), DataSets: []DataSet{{Name: "village", Recordings: 130}}}
	if err := p.Seal(); err != nil {
		f.Fatal(err)
	}
	dir := f.TempDir()
	if err := p.WriteOrVerify(dir, false); err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, PlanFile))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"stage":"run","data_sets":[{"recordings":-5}],"config":{"part_size":0}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, PlanFile), text, 0o644); err != nil {
			t.Fatal(err)
		}
		there, err := ReadPlan(dir)
		if err != nil {
			if !strings.Contains(err.Error(), PlanFile) {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		if there.Parts() < 1 {
			t.Errorf("a plan of %d parts", there.Parts())
		}
		if err := p.WriteOrVerify(dir, true); err != nil && !strings.Contains(err.Error(), dir) {
			t.Errorf("error without a place: %v", err)
		}
	})
}
