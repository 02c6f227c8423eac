package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"

	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/pcg"
)

// Method is a way of segmenting recordings.
type Method struct {
	Name     string        // as on the command line
	Title    string        // what it is, in a line
	Paper    citation.Work // that describes it
	Citation string        // in place of Paper, where it is not known in parts
	Differs  []string      // where the method departs from its paper, in sentences; options say it of themselves
	Digest   string        // of what the method is made from; empty for a method of this program

	// Points says that the method marks the middle of each sound and no durations.
	Points bool

	// Original says that the method wants the samples as they were recorded.
	Original bool

	// File says that the method reads the audio file itself.
	File bool

	// Defaults returns a pointer to a struct of options with yaml tags, filled with
	// their default values. Those of a method of this program are an [option.Set].
	Defaults func() any

	// New makes a segmenter. Options are of the type that Defaults returns, and pass
	// [option.Check]; model is the content of a model file that Fit made, ignored where Fit is nil. A
	// segmenter that is an [io.Closer] is to be closed.
	New func(options any, model []byte) (Segmenter, error)

	// FitDefaults is like Defaults for the options of Fit; nil with Fit.
	FitDefaults func() any

	// Fit estimates the parameters of a model from annotated recordings, the
	// same for the same examples in the same order. Put them in a Model to write
	// them down. When ctx ends, a fit that learns by steps returns the best
	// parameters so far along with the error. Fit is nil for a method without
	// parameters.
	Fit func(ctx context.Context, options any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error)
}

// Cite returns the citation of the method as text.
func (m *Method) Cite() string {
	if m.Citation != "" || m.Paper.Title == "" {
		return m.Citation
	}
	return m.Paper.String()
}

// Fitting is how a fit runs. Nothing in it changes what is estimated.
type Fitting struct {
	Workers    int          // goroutines; 0 is one
	Checkpoint string       // file that a long fit writes now and then, and goes on from if it is there; empty for none
	Progress   func(string) // told how far the fit is; may be nil
}

func (f Fitting) say(format string, args ...any) {
	if f.Progress != nil {
		f.Progress(fmt.Sprintf(format, args...))
	}
}

// Example is an annotated recording to learn from.
type Example struct {
	Source
	Person    string
	X         []float64 // samples at signal.AnalysisRate; a fit does not keep them
	Reference pcg.Reference
}
