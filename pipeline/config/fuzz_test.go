package config

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
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
// segments or says why not, within a bound of memory. The parameters are also
// tried with a digest that fits them, as of a file that somebody has edited.
// Embedded models are seeds without the people and the audio that they list, and
// that of conv-hsmm is none, since a fuzzer gets nowhere with so large a text:
// FuzzModelParameters takes it.
func FuzzModelFile(f *testing.F) {
	for _, method := range fitted() {
		m := embedded(f, method)
		if len(m.Params) > 1<<14 {
			continue
		}
		f.Add(method.Name, []byte(m.Params))
		m.People, m.Audio = []string{"circor/1"}, nil
		small, err := m.Marshal()
		if err != nil {
			f.Fatal(err)
		}
		f.Add(method.Name, small)
	}
	f.Add("duration-hmm", []byte(`{"emission":{"s1":{"mean":1,"sd":5e-324},"systole":{"mean":-1,"sd":1},"s2":{"mean":1,"sd":1},"diastole":{"mean":-1,"sd":1}}}`))
	f.Add("logistic-hsmm", []byte(`{"version":1,"method":"logistic-hsmm","params":{}}`))
	f.Add("logistic-hsmm", []byte(`[[[[[[[[`))
	f.Fuzz(func(t *testing.T, name string, file []byte) {
		method, err := segment.Lookup(name)
		if err != nil || method.Fit == nil {
			return
		}
		segmentASecond(t, method, file)
		if json.Valid(file) {
			m := segment.Model{Method: name, Params: file}
			if repaired, err := m.Marshal(); err == nil {
				segmentASecond(t, method, repaired)
			}
		}
	})
}

// FuzzModelParameters: two numbers anywhere in the parameters of an embedded model
// are changed, and the file has a digest that fits. It is refused, or segments or
// says why not.
func FuzzModelParameters(f *testing.F) {
	for method := range len(fitted()) {
		for _, value := range []float64{0, -1, 5e-324, 1e300, 1 << 40} {
			f.Add(uint8(method), uint16(method), value, uint16(7*method+1), -value)
		}
	}
	f.Fuzz(func(t *testing.T, method uint8, first uint16, a float64, second uint16, b float64) {
		methods := fitted()
		chosen := methods[int(method)%len(methods)]
		m := embedded(t, chosen)
		var params any
		if err := json.Unmarshal(m.Params, &params); err != nil {
			t.Fatal(err)
		}
		var set []func(any)
		eachNumber("", params, func(_ string, s func(any)) { set = append(set, s) })
		set[int(first)%len(set)](a)
		set[int(second)%len(set)](b)
		var err error
		if m.Params, err = json.Marshal(params); err != nil {
			return // not a number
		}
		file, err := m.Marshal()
		if err != nil {
			t.Fatal(err)
		}
		_ = segmentASecond(t, chosen, file)
	})
}

// embedded returns the embedded model of a method.
func embedded(t testing.TB, method segment.Method) *segment.Model {
	t.Helper()
	whole, err := loadModel(method, BuiltinModel)
	if err != nil {
		t.Fatal(err)
	}
	m, err := segment.ParseModel(whole, method.Name)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// fitted are the methods with an embedded model.
func fitted() []segment.Method {
	return slices.DeleteFunc(segment.Methods(), func(m segment.Method) bool { return !slices.Contains(ModelNames(), m.Name) })
}

// segmentASecond segments a second of sound with a model file, or returns why it
// is refused.
func segmentASecond(t *testing.T, method segment.Method, file []byte) error {
	x := make([]float64, signal.AnalysisRate)
	for i := range x {
		x[i] = float64(i*i%97)/97 - 0.5
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	defer func() {
		runtime.ReadMemStats(&after)
		const most = 1 << 30
		if n := after.TotalAlloc - before.TotalAlloc; n > most {
			t.Errorf("%d bytes were allocated", n)
		}
	}()
	s, err := method.New(method.Defaults(), file)
	if err != nil {
		return err
	}
	if seg, err := s.Segment(t.Context(), segment.NewInput(x)); err == nil {
		if err := seg.Check(1e9); err != nil {
			t.Error(err)
		}
	}
	return nil
}

// Each parameter of each embedded model, set to what no fit gives, is refused by
// name or does no harm, though the digest fits.
func TestEditedModels(t *testing.T) {
	for _, method := range fitted() {
		name, m := method.Name, embedded(t, method)
		var params any
		if err := json.Unmarshal(m.Params, &params); err != nil {
			t.Fatal(err)
		}
		eachNumber("", params, func(key string, set func(any)) {
			if strings.Contains(key, "weights") && !strings.HasSuffix(key, "[0]") {
				return // the rest are read alike
			}
			for _, value := range []float64{5e-324, -1, math.MaxFloat64} {
				set(value)
				changed, err := json.Marshal(params)
				if err != nil {
					t.Fatal(err)
				}
				m.Params = changed
				file, err := m.Marshal()
				if err != nil {
					t.Fatal(err)
				}
				err = segmentASecond(t, method, file)
				last := strings.TrimRight(key[strings.LastIndex(key, ".")+1:], "[]0123456789")
				named := func(part string) bool { return strings.Contains(err.Error(), part) }
				if err != nil && !named(last) && !named(strings.ReplaceAll(last, "_", "-")) && !named("filter bank") && !named("network") && !named("weights") {
					t.Errorf("%s: %s = %g: the error does not name it: %v", name, key, value, err)
				}
				if value == math.MaxFloat64 && err == nil {
					t.Errorf("%s: %s = %g is accepted", name, key, value)
				}
			}
		})
	}
}

// eachNumber calls do for each number in a JSON value, always in the same order,
// with its path and what sets it; afterwards the number is as it was.
func eachNumber(key string, v any, do func(key string, set func(any))) {
	visit := func(key string, inner any, set func(any)) {
		if n, ok := inner.(float64); ok {
			do(key, set)
			set(n)
			return
		}
		eachNumber(key, inner, do)
	}
	switch v := v.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			inner := v[k]
			visit(key+"."+k, inner, func(n any) { v[k] = n })
		}
	case []any:
		for i, inner := range v {
			visit(fmt.Sprintf("%s[%d]", key, i), inner, func(n any) { v[i] = n })
		}
	}
}
