package pipeline

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/configs"
	"phonocycle/pipeline/segment"
)

// FuzzConfig: whatever a run configuration says, it is refused with its name or
// holds what can be checked, printed and made into options.
func FuzzConfig(f *testing.F) {
	for _, name := range ConfigNames() {
		text, err := configs.FS.ReadFile("runs/" + name + ".yaml")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("sources: [{data: x, layout: plain}]\nshard: 2/3\ntime-limit: 9m\noptions: {max-rate: 200}\n"))
	f.Add([]byte("a: &a [*a]\n"))
	f.Add([]byte("options: [[[[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]]]\n"))
	f.Add([]byte("? ? ? a\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := parseConfig("fuzz.yaml", text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "run configuration fuzz.yaml") {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		if err := c.Check(); err != nil {
			return
		}
		if err := c.SetOptions([]string{"a=1"}); err != nil && !strings.HasPrefix(err.Error(), "options: ") {
			t.Error(err)
		}
		j := &job{config: c}
		_ = j.chooseMethod() // refuses what the method does not know
	})
}

// FuzzPlan: whatever stands in an output folder as its plan, reading it fails or
// gives what can be compared.
func FuzzPlan(f *testing.F) {
	p := Plan{Tool: tool, Stage: "run", Config: DefaultConfig(), Sources: []PlanSource{{Name: "village", Recordings: 130}}}
	if err := p.seal(); err != nil {
		f.Fatal(err)
	}
	dir := f.TempDir()
	if err := p.settle(dir, false); err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, planFile))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"stage":"run","sources":[{"recordings":-5}],"config":{"part_size":0}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, planFile), text, 0o644); err != nil {
			t.Fatal(err)
		}
		there, err := readPlan(dir)
		if err != nil {
			if !strings.Contains(err.Error(), planFile) {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		if there.parts() < 1 {
			t.Errorf("a plan of %d parts", there.parts())
		}
		if err := p.settle(dir, true); err != nil && !strings.Contains(err.Error(), dir) {
			t.Errorf("error without a place: %v", err)
		}
		if _, err := Merge(t.Context(), dir, 1, nil); err == nil {
			t.Error("merged a folder without tables")
		}
	})
}

// FuzzModelFile: a model file is refused, or a method is made of it that either
// segments or says why not.
func FuzzModelFile(f *testing.F) {
	method, err := segment.Lookup("logistic-hsmm")
	if err != nil {
		f.Fatal(err)
	}
	whole, err := loadModel(method, BuiltinModel)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add([]byte(`{"version":1,"method":"logistic-hsmm","params":{}}`))
	f.Add([]byte(`[[[[[[[[`))
	x := make([]float64, 2*AnalysisRate)
	for i := range x {
		x[i] = float64(i*i%97)/97 - 0.5
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		s, err := method.New(method.Defaults(), file)
		if err != nil {
			return
		}
		if seg, err := s.Segment(t.Context(), x, AnalysisRate); err == nil {
			if err := seg.Check(2e9); err != nil {
				t.Error(err)
			}
		}
	})
}
