package eval

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// ComparedRun says of a run what stands beside its scores.
type ComparedRun struct {
	Name       string     `json:"run"`
	DataSet    string     `json:"data_set,omitempty"`
	Version    string     `json:"data_set_version,omitempty"`
	People     int        `json:"people"`     // in the scores
	Recordings int        `json:"recordings"` // in the scores, those that failed included
	Failed     int        `json:"failed"`     // without output
	Provenance Provenance `json:"provenance"`
	Options    string     `json:"own_options,omitempty"` // in which it differs from the other runs of its method
	Cost       Ratio      `json:"processor_s_per_h"`     // of audio, to segment it
}

// compared returns what stands beside the scores of the run.
func (r *Run) compared(g *group) ComparedRun {
	c := ComparedRun{
		Name: r.Name, DataSet: r.DataSet, Version: r.Version, Provenance: r.Provenance, Cost: Ratio(r.Cost),
		People: g.people(), Recordings: g.recordings,
	}
	if r.Cost <= 0 {
		c.Cost = null()
	}
	for rec := range r.Results.counted(-1) {
		if rec.status == Failed {
			c.Failed++
		}
	}
	return c
}

// Columns of runs.
var (
	nameColumn       = tabular.Words("Run", func(r *ComparedRun) string { return r.Name })
	scoredColumn     = tabular.Counts("Recordings", func(r *ComparedRun) int { return r.Recordings })
	failedColumn     = tabular.Counts("Failed", func(r *ComparedRun) int { return r.Failed })
	costColumn       = tabular.Numbers("CPU, s/h", tabular.Tenths, func(r *ComparedRun) Ratio { return r.Cost }).CSV("processor s per h")
	provenanceColumn = tabular.Words("Provenance", func(r *ComparedRun) string { return r.origin() }).On(tabular.OnlyCSV)
)

// ruleFields are the columns of CSV that say on what and by what rules runs are
// scored.
func ruleFields[T any](of func(T) (*ComparedRun, *RulesSummary)) []tabular.Field[T] {
	run := func(v T) *ComparedRun { r, _ := of(v); return r }
	rules := func(v T) *RulesSummary { _, r := of(v); return r }
	list := []tabular.Field[T]{
		tabular.Words("Data set", func(v T) string { return run(v).DataSet }),
		tabular.Words("Version", func(v T) string { return run(v).Version }).CSV("data set version"),
		tabular.Words("Reference", func(v T) string { return rules(v).Reference }),
		tabular.Words("Anchor", func(v T) string { return rules(v).Anchor.String() }),
		tabular.Numbers("Tolerance", tabular.Exact.In("ms"), func(v T) float64 { return rules(v).HeadlineMS }),
		tabular.Counts("People", func(v T) int { return run(v).People }),
	}
	for i := range list {
		list[i] = list[i].On(tabular.OnlyCSV)
	}
	return list
}

// dataSet returns the name of the data set with its version.
func (r *ComparedRun) dataSet() string { return strings.TrimSpace(r.DataSet + " " + r.Version) }

// dataSets lists the data sets of some runs.
func dataSets(runs []ComparedRun) string {
	var names []string
	for i := range runs {
		if name := runs[i].dataSet(); name != "" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return strings.Join(names, ", ")
}

// prefixed puts a prefix before a text that is not empty.
func prefixed(prefix, text string) string {
	if text == "" {
		return ""
	}
	return prefix + text
}

// origin says how the scores of a run arose; with the method where the run has
// another name.
func (r *ComparedRun) origin() string {
	p := r.Provenance
	if p.Method == r.Name {
		p.Method = ""
	}
	return join([]string{p.Words(), prefixed("with ", r.Options)})
}

// tellApart states for runs of one method the options in which they differ.
func tellApart(runs []*ComparedRun) {
	for _, r := range runs {
		var parts []string
		for _, of := range []func(*Provenance) json.RawMessage{
			func(p *Provenance) json.RawMessage { return p.Options }, func(p *Provenance) json.RawMessage { return p.FitOptions },
		} {
			mine, own := optionValues(of(&r.Provenance)), make(map[string]bool)
			for _, other := range runs {
				if theirs := optionValues(of(&other.Provenance)); other.Provenance.Method == r.Provenance.Method && theirs != nil {
					for key, value := range mine {
						own[key] = own[key] || theirs[key] != value
					}
				}
			}
			for _, key := range slices.Sorted(maps.Keys(own)) {
				if own[key] {
					parts = append(parts, key+"="+mine[key])
				}
			}
		}
		r.Options = join(parts)
	}
}

// optionValues returns options by their keys; nil if there are none.
func optionValues(options json.RawMessage) map[string]string {
	var raw map[string]json.RawMessage
	if json.Unmarshal(options, &raw) != nil {
		return nil
	}
	values := make(map[string]string)
	for key, value := range raw {
		values[key] = strings.Trim(string(value), `"`)
	}
	return values
}

// provenanceNote says how the scores of runs arose, those that arose alike together.
func provenanceNote(runs []ComparedRun) string {
	var origins []string
	names := make(map[string][]string)
	for i := range runs {
		text := cmp.Or(runs[i].origin(), "not known")
		if names[text] == nil {
			origins = append(origins, text)
		}
		names[text] = append(names[text], runs[i].Name)
	}
	if len(origins) == 1 {
		return fmt.Sprintf(" Provenance of all runs: %s.", origins[0])
	}
	note := " Provenance:"
	for i, text := range origins {
		if i > 0 {
			note += ";"
		}
		note += fmt.Sprintf(" %s: %s", strings.Join(names[text], ", "), text)
	}
	return note + "."
}
