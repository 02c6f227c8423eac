package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"strings"

	"phonocycle/pipeline/pcg"
)

// Method is a way of segmenting recordings.
type Method struct {
	Name     string // as on the command line
	Title    string // what it is, in a line
	Citation string // the paper that describes it
	DOI      string

	// NeedsModel says that New wants a model made by Fit.
	NeedsModel bool

	// Defaults returns a pointer to a struct of options with yaml and json tags,
	// filled with their default values.
	Defaults func() any

	// New makes a segmenter. Options are of the type that Defaults returns; model
	// is the content of a model file, ignored where NeedsModel is false.
	New func(options any, model []byte) (Segmenter, error)

	// FitDefaults is like Defaults for the options of Fit; nil with Fit.
	FitDefaults func() any

	// Fit estimates the parameters of a model from annotated recordings, the
	// same for the same examples in the same order. Put them in a Model to write
	// them down. Progress is told now and then how far the fit is; it may be
	// nil. Fit is nil where NeedsModel is false.
	Fit func(ctx context.Context, options any, examples iter.Seq2[Example, error], progress func(string)) (json.RawMessage, error)
}

// Example is an annotated recording to learn from.
type Example struct {
	Recording string
	Person    string
	X         []float64 // samples at Rate; a fit does not keep them
	Reference pcg.Reference
}

// Methods returns all methods, from the simplest to the most demanding.
func Methods() []Method {
	return []Method{shannonPeaks, durationHMM, logisticHSMM, convHSMM}
}

// Lookup returns the method of the given name.
func Lookup(name string) (Method, error) {
	var names []string
	for _, m := range Methods() {
		if m.Name == name {
			return m, nil
		}
		names = append(names, m.Name)
	}
	return Method{}, fmt.Errorf("unknown method %q: want one of %s", name, strings.Join(names, ", "))
}
