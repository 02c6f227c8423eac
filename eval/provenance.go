package eval

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"phonocycle/eval/tabular"
)

// Origin says how the segmentation that is scored came about.
type Origin string

// The origins. Where none is stated, nothing was scored, or a score was made
// without a plan.
const (
	CrossValidated  Origin = "cross-validated"  // each recording by a model fitted without the people of its fold
	FittedElsewhere Origin = "fitted-elsewhere" // by a model that was fitted on other people
	FittedOnThese   Origin = "fitted-on-these"  // by a model that was fitted on people who are scored
	NotFitted       Origin = "not-fitted"       // by a method without fitted parameters
	MadeElsewhere   Origin = "elsewhere"        // by another program
)

// Provenance says how a score arose: by what method, fitted on whom. Two scores by
// the same rules mean different things where it differs.
type Provenance struct {
	Method     string          `json:"method,omitempty"` // name
	Title      string          `json:"title,omitempty"`  // of the method
	Options    json.RawMessage `json:"options,omitempty"`
	FitOptions json.RawMessage `json:"fit_options,omitempty"`
	Program    string          `json:"method_digest,omitempty"` // of a method that is a program
	Model      string          `json:"model_digest,omitempty"`  // of the model file, where there is one for all recordings

	Reference    string `json:"reference,omitempty"`     // name of that of the score
	FitReference string `json:"fit_reference,omitempty"` // name of that of the fit, where it is another

	Origin   Origin `json:"origin,omitempty"`
	Declared Origin `json:"declared,omitempty"` // for MadeElsewhere: what its format or its user says

	Folds      int       `json:"folds,omitempty"` // for CrossValidated, also where it is declared
	FoldSeed   uint64    `json:"fold_seed,omitempty"`
	FoldsFrom  string    `json:"folds_from,omitempty"`  // name of the run whose folds are declared
	MostPeople int       `json:"most_people,omitempty"` // largest number of people to whom each fold is fitted
	TrainedOn  TrainedOn `json:"trained_on,omitzero"`   // of one model for all recordings
	LeftOut    int       `json:"left_out,omitempty"`    // people of the training data who are not scored
	Trained    int       `json:"trained,omitempty"`     // people of the training data who are scored

	People     string `json:"people,omitempty"`     // the list of people to whom the data were restricted: name and digest
	Recordings string `json:"recordings,omitempty"` // the same of recordings
	Condition  string `json:"condition,omitempty"`  // how the audio was changed before it was segmented
}

// TrainedOn is the training data of a model.
type TrainedOn struct {
	DataSet    string `json:"data_set,omitempty"` // title and version
	People     int    `json:"people"`
	Recordings int    `json:"recordings,omitempty"`
	Digest     string `json:"digest,omitempty"`    // of audio and annotations
	Condition  string `json:"condition,omitempty"` // how the audio was changed
}

// shortDigest is the number of digits of a digest that screens and captions show.
const shortDigest = 12

// Words says in one sentence how the score arose, as in "conv-hsmm, cross-validated,
// 10 folds by person, seed 1".
func (p *Provenance) Words() string {
	parts := []string{p.Method, p.Short()}
	if p.Condition != "" {
		parts = append(parts, "on audio changed by "+p.Condition)
	}
	if p.FitReference != "" {
		parts = append(parts, fmt.Sprintf("fitted to the reference %s", p.FitReference))
	}
	if p.People != "" {
		parts = append(parts, "people of the list "+p.People)
	}
	if p.Recordings != "" {
		parts = append(parts, "recordings of the list "+p.Recordings)
	}
	return join(parts)
}

// Short says it without the method and the selection of recordings, for the cell of
// a table.
func (p *Provenance) Short() string {
	if p.Origin != MadeElsewhere {
		return p.origin(p.Origin)
	}
	if p.Declared == "" {
		return "made elsewhere, training data not declared"
	}
	return "made elsewhere, declared as " + p.origin(p.Declared)
}

// origin puts an origin other than MadeElsewhere into words.
func (p *Provenance) origin(o Origin) string {
	switch o {
	case CrossValidated:
		return p.folds()
	case FittedElsewhere:
		if p.LeftOut == 0 {
			return p.TrainedOn.words("other ")
		}
		return fmt.Sprintf("%s, %d of these people left out", p.TrainedOn.words(""), p.LeftOut)
	case FittedOnThese:
		return fmt.Sprintf("%s, %d of whom are scored", p.TrainedOn.words(""), p.Trained)
	case NotFitted:
		return "not fitted"
	}
	return ""
}

// folds describes a cross-validation.
func (p *Provenance) folds() string {
	parts := []string{"cross-validated", fmt.Sprintf("%d folds by person", p.Folds)}
	if p.Origin == CrossValidated || p.FoldsFrom != "" { // else the folds are lists that another program declares
		parts = append(parts, fmt.Sprintf("seed %d", p.FoldSeed))
	}
	if p.FoldsFrom != "" {
		parts = append(parts, "folds of "+p.FoldsFrom)
	}
	if p.MostPeople > 0 {
		parts = append(parts, fmt.Sprintf("each fitted on %d people at most", p.MostPeople))
	}
	for _, known := range []struct { // in every list that is declared
		people int
		what   string
	}{{p.LeftOut, "left out"}, {p.Trained, "scored"}} {
		if known.people > 0 {
			parts = append(parts, fmt.Sprintf("%s of all training sets %s", tabular.Plural(known.people, "person", "people"), known.what))
		}
	}
	return join(parts)
}

// words describes the training data; which stands before the people.
func (t *TrainedOn) words(which string) string {
	text := "fitted on " + tabular.Plural(t.People, which+"person", which+"people")
	if t.DataSet != "" {
		text += " of " + t.DataSet
	}
	if t.Digest != "" {
		text += fmt.Sprintf(" (data %.*s)", shortDigest, t.Digest)
	}
	if t.Condition != "" {
		text += ", whose audio was changed by " + t.Condition
	}
	return text
}

// Details lists the rest in words, in the order of printing: what the method was
// told, and against what it is scored.
func (p *Provenance) Details() []Rule {
	var list []Rule
	add := func(name, text string) {
		if text != "" {
			list = append(list, Rule{name, text})
		}
	}
	add("Method", join([]string{p.Method, p.Title}))
	add("Options", optionWords(p.Options))
	add("Fit options", optionWords(p.FitOptions))
	add("Program", p.Program)
	add("Model", p.Model)
	add("Origin", p.Short())
	add("Fitted to", p.FitReference)
	add("People", p.People)
	add("Recordings", p.Recordings)
	add("Audio", p.Condition)
	return list
}

// optionWords prints options as the command line takes them: key=value, where the key
// of a nested option is a path with dots.
func optionWords(options json.RawMessage) string { return join(optionList(nil, "", options)) }

// optionList adds the options of a JSON object to a list, in their order.
func optionList(list []string, path string, options json.RawMessage) []string {
	d := json.NewDecoder(bytes.NewReader(options))
	if start, err := d.Token(); err != nil || start != json.Delim('{') {
		return list
	}
	for d.More() {
		var value json.RawMessage
		key, err := d.Token()
		if err != nil || d.Decode(&value) != nil {
			return list
		}
		name := fmt.Sprintf("%s%v", path, key)
		if value[0] == '{' {
			list = optionList(list, name+".", value)
		} else {
			var text bytes.Buffer
			if json.Compact(&text, value) != nil {
				return list
			}
			list = append(list, name+"="+strings.Trim(text.String(), `"`))
		}
	}
	return list
}

// join joins the parts that are not empty.
func join(parts []string) string {
	var list []string
	for _, p := range parts {
		if p != "" {
			list = append(list, p)
		}
	}
	return strings.Join(list, ", ")
}
