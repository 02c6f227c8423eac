// Package option describes the options of segmentation methods: what each is, its
// unit, the values that are accepted, the value of the paper and where that was
// found. What refuses a value, what prints the options and what writes them into a
// plan all read the same description.
package option

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
)

// Set is a struct of options.
type Set interface {
	// Options returns the options in order, bound to the fields of the struct.
	Options() []Option
}

// None is the set of a method without options.
type None struct{}

// Options implements Set.
func (*None) Options() []Option { return nil }

// Option is one option of a method, bound to the field that holds its value.
type Option struct {
	Key   string // as --option writes it; a nested option has a key with dots
	Value any    // pointer to the field: a number, a bool, a text or a list of whole numbers
	About string // what it is, in a sentence without its full stop
	Unit  string // of the value; empty for a number without one

	// Low and High are the least and the greatest number that is accepted. Limit
	// describes the range where another option decides one of them.
	Low, High float64
	Limit     string

	Words []string     // texts that are accepted
	Rule  func() error // a further condition; nil for none

	Paper   any    // value of the paper, or a text on it where none is known; nil if the paper has none
	Source  Source // where the paper's value was found
	Default string // why the default is what it is; empty if it is the paper's
}

// Origin says how the value of a paper came to be known here.
type Origin string

// The origins.
const (
	Ours   Origin = ""            // a choice of this project: there is no value of a paper
	Read   Origin = "read"        // seen in print
	Memory Origin = "from memory" // not checked against the print
)

// Source is a paper, and how its value came to be known here.
type Source struct {
	Paper      string // authors and year
	Origin     Origin
	Confidence string // in what is from memory: high, medium or low; empty if not judged
}

// FromMemory returns the source of a value that was not checked against the print.
func FromMemory(paper, confidence string) Source { return Source{paper, Memory, confidence} }

// String says paper, origin and confidence, as in "Liang 1997, from memory, high
// confidence".
func (s Source) String() string {
	if s.Origin == Ours {
		return "a choice of this project"
	}
	parts := []string{s.Paper, string(s.Origin)}
	if s.Confidence != "" {
		parts = append(parts, s.Confidence+" confidence")
	}
	return strings.Join(parts, ", ")
}

// Under returns options with keys below a key, as options of a nested struct.
func Under(key string, options []Option) []Option {
	for i := range options {
		options[i].Key = key + "." + options[i].Key
	}
	return options
}

// Current returns the value that the option has.
func (o Option) Current() any { return reflect.ValueOf(o.Value).Elem().Interface() }

// HasPaper reports whether a value of the paper is known.
func (o Option) HasPaper() bool {
	_, text := o.Paper.(string)
	return o.Paper != nil && (!text || len(o.Words) > 0)
}

// Differs reports whether the option has another value than the paper.
func (o Option) Differs() bool {
	return o.HasPaper() && fmt.Sprint(o.Paper) != fmt.Sprint(o.Current())
}

// JSON returns the values of all options as an object with the keys of the flags, in
// order.
func JSON(s Set) (json.RawMessage, error) {
	var b strings.Builder
	for i, o := range s.Options() {
		value, err := json.Marshal(o.Current())
		if err != nil {
			return nil, fmt.Errorf("option %s: %w", o.Key, err)
		}
		fmt.Fprintf(&b, "%c%q:%s", "{,"[min(i, 1)], o.Key, value)
	}
	if b.Len() == 0 {
		return json.RawMessage("{}"), nil
	}
	return json.RawMessage(b.String() + "}"), nil
}
