package config

import (
	"strings"
	"testing"

	"phonocycle/configs"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
)

// FuzzConfig: whatever a run configuration says, it is refused with its name or
// holds what can be checked, printed and made into options.
func FuzzConfig(f *testing.F) {
	for _, name := range Names() {
		text, err := configs.FS.ReadFile("runs/" + name + ".yaml")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("inputs: [{data: x, layout: plain}]\nshard: 2/3\ntime-limit: 9m\noptions: {max-rate: 200}\n"))
	f.Add([]byte("a: &a [*a]\n"))
	f.Add([]byte("options: [[[[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]]]\n"))
	f.Add([]byte("? ? ? a\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := parse("fuzz.yaml", text)
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
		_, _ = c.LoadMethod() // refuses what the method does not know
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
	x := make([]float64, 2*signal.AnalysisRate)
	for i := range x {
		x[i] = float64(i*i%97)/97 - 0.5
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		s, err := method.New(method.Defaults(), file)
		if err != nil {
			return
		}
		if seg, err := s.Segment(t.Context(), signal.NewWaveform(x)); err == nil {
			if err := seg.Check(2e9); err != nil {
				t.Error(err)
			}
		}
	})
}
