package program

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
)

// twoExamples are recordings of two people, of 1 s and 2 s.
func twoExamples() iter.Seq2[segment.Example, error] {
	return func(yield func(segment.Example, error) bool) {
		for i := range 2 {
			e := segment.Example{Person: fmt.Sprint("p", i), X: make([]float64, 1000*(i+1))}
			e.Recording, e.Labels = fmt.Sprint("a", i), pcg.MakeLabels([]string{"age", "sex"}, []string{"7", ""})
			e.Reference.Intervals = []pcg.Interval{{Start: 100 * time.Millisecond, End: 250 * time.Millisecond, State: pcg.S1}}
			if !yield(e, nil) {
				return
			}
		}
	}
}

// fitFile writes the file of a method whose program fits as the word says.
func fitFile(t *testing.T, what string) string {
	t.Helper()
	command, err := json.Marshal([]string{os.Args[0], "fit", "{model}", "{examples}", "{fit-options}", what})
	if err != nil {
		t.Fatal(err)
	}
	return methodFile(t, []string{"answer", beats, "{model}"}, "fit: "+string(command), "fit-options: {seed: 7}", "labels: true")
}

// A fit gets the examples, the options and nothing else, and its model comes back as
// it was written.
func TestFit(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	const want = `{"recording":"a0","signal":"FOLDER/000001.npy","rate":1000,"duration":1,"labels":{"age":"7"},"person":"p0","intervals":[["S1",0.1,0.25]]}
{"recording":"a1","signal":"FOLDER/000002.npy","rate":1000,"duration":2,"labels":{"age":"7"},"person":"p1","intervals":[["S1",0.1,0.25]]}
{"seed":7}
000001.npy 8128
000002.npy 16128
`
	file := fitFile(t, "child")
	m, err := Load(file)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	got, err := m.Fit(t.Context(), m.FitDefaults(), twoExamples(), segment.Fitting{Progress: func(line string) { said = append(said, line) }})
	if err != nil {
		t.Fatal(err)
	}
	var p params
	if err := json.Unmarshal(got, &p); err != nil || string(p.File) != want {
		t.Errorf("model\n%s\nwant\n%s", p.File, want)
	}
	if fmt.Sprint(said) != "[read 2 examples]" {
		t.Errorf("progress %q", said)
	}
	checkNothingLeft(t, file)

	// The program finds the same bytes when it segments.
	model := &segment.Model{Method: m.Name, Params: got}
	content, err := model.Marshal()
	if err != nil {
		t.Fatal(err)
	}
	made, err := m.New(m.Defaults(), content)
	if err != nil {
		t.Fatal(err)
	}
	s := made.(*segmenter)
	defer s.Close()
	if _, err := s.Segment(t.Context(), testInput("a1")); err != nil {
		t.Fatal(err)
	}
	if found, err := os.ReadFile(filepath.Join(s.process.folder, modelName)); err != nil || string(found) != want {
		t.Errorf("the program has the model\n%s, %v", found, err)
	}
}

// What a fit does wrong is an error that says it.
func TestFaultsOfAFit(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	for what, want := range map[string]string{
		"no-model":  "the program ended without an error and wrote no file {model}; it must have exactly this name; the last lines of its standard error: read 2 examples",
		"extension": "wrote no file {model}; it must have exactly this name and not {model}.npz",
		"empty":     "the program wrote an empty model",
		"large":     "the program wrote a model of more than 32 MB",
		"exit":      "the program ended with exit status 2; the last lines of its standard error: read 2 examples | singular matrix",
	} {
		file := fitFile(t, what)
		m, err := Load(file)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := m.Fit(t.Context(), m.FitDefaults(), twoExamples(), segment.Fitting{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: error %v", what, err)
		}
		checkNothingLeft(t, file)
	}
	m, err := Load(fitFile(t, ""))
	if err != nil {
		t.Fatal(err)
	}
	broken := errors.New("disk lost")
	for want, examples := range map[string]iter.Seq2[segment.Example, error]{
		"no annotated recording to fit to": func(func(segment.Example, error) bool) {},
		"disk lost":                        func(yield func(segment.Example, error) bool) { yield(segment.Example{}, broken) },
	} {
		if _, err := m.Fit(t.Context(), m.FitDefaults(), examples, segment.Fitting{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %s", err, want)
		}
	}
}

// A fit that is stopped is killed.
func TestFitIsStopped(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	file := fitFile(t, "hang")
	m, err := Load(file)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	begun := time.Time{}
	_, err = m.Fit(ctx, m.FitDefaults(), twoExamples(), segment.Fitting{Progress: func(string) { begun = time.Now(); cancel() }})
	if took := time.Since(begun); !errors.Is(err, context.Canceled) || took > 2*time.Second {
		t.Errorf("error %v after %v", err, took)
	}
	checkNothingLeft(t, file)
}

// A model that is not one of the method is refused before a program starts.
func TestModelsThatAreRefused(t *testing.T) {
	m, err := Load(fitFile(t, ""))
	if err != nil {
		t.Fatal(err)
	}
	for want, model := range map[string]*segment.Model{
		"model was fitted for another method":  {Method: "other", Params: json.RawMessage(`{"file":"YQ=="}`)},
		"model: it holds no file":              {Method: m.Name, Params: json.RawMessage(`{}`)},
		`model: json: unknown field "weights"`: {Method: m.Name, Params: json.RawMessage(`{"weights":[]}`)},
	} {
		content, err := model.Marshal()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := m.New(m.Defaults(), content); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %s", err, want)
		}
	}
	if _, err := m.New(m.Defaults(), nil); err == nil {
		t.Error("a method that is fitted works without a model")
	}
}
