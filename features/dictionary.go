package features

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// preface opens the printed dictionary.
var preface = `# Dictionary of features

Printed by ` + "`phonocycle dictionary`" + ` from the catalogue that the columns of the tables are made from; a test of package
features holds this copy to it. Features are measurements for research and no diagnosis.

A null means that the quantity does not exist or that the state is too short or too quiet for it; each row says when.
The column *gain g* says what becomes of a value when the recording is amplified by g. FS is full scale.

` + notation + `## Features of a cycle

Columns of the table ` + "`cycles`" + `. Each enters the tables ` + "`recordings`" + ` and ` + "`people`" + ` by its statistics over the cycles of a
recording, which are named in the column *over cycles* and append their suffix to the name: ` + "`rr_interval_s_mean`" + `.

`

// WriteMarkdown writes the catalogue as a page of Markdown: the features of a
// cycle, the statistics over cycles, and the features of a recording as a whole.
func WriteMarkdown(w io.Writer) error {
	var b strings.Builder
	b.WriteString(preface)
	b.WriteString("| name | unit | definition | range | null | gain g | over cycles | source |\n|---|---|---|---|---|---|---|---|\n")
	for i := range cycleFeatures {
		f := &cycleFeatures[i]
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s | %s | %s | %s |\n", f.Name, f.Unit,
			cell(f.Definition), cell(f.Range), cell(f.Null), f.Scaling, f.Statistics, cell(f.Source))
	}
	b.WriteString("\n## Statistics over the cycles of a recording\n\n" +
		"Nulls are left out. Unit and, for mean and median, range are those of the feature.\n\n" +
		"| suffix | definition | null |\n|---|---|---|\n")
	for _, s := range statistics {
		fmt.Fprintf(&b, "| `_%s` | %s | %s |\n", s.suffix, s.words, s.null)
	}
	b.WriteString("\n## Features of a recording\n\nColumns of the tables `recordings` and `people`.\n\n" +
		"| name | unit | definition | range | null | gain g | source |\n|---|---|---|---|---|---|---|\n")
	for i := range recordingFeatures {
		if f := &recordingFeatures[i]; f.ofRecording != nil {
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s | %s | %s |\n", f.Name, f.Unit,
				cell(f.Definition), cell(f.Range), cell(f.Null), f.Scaling, cell(f.Source))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// String returns the suffixes of the statistics, in the order of their columns.
func (s Statistics) String() string {
	var names []string
	for _, known := range statistics {
		if s&known.bit != 0 {
			names = append(names, known.suffix)
		}
	}
	return strings.Join(names, ", ")
}

// cell returns s with the sign that divides the cells of a table escaped.
func cell(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

// entry is a row of the catalogue as it stands in JSON.
type entry struct {
	Name       string   `json:"name"`
	Level      Level    `json:"level"`
	Tables     []string `json:"tables"`
	Unit       string   `json:"unit"`
	Definition string   `json:"definition"`
	Source     string   `json:"source"`
	Range      string   `json:"range"`
	Null       string   `json:"null"`
	Scaling    Scaling  `json:"gain"`
}

// tables names the tables that have a column for features of the level.
func (l Level) tables() []string {
	if l == OfCycle {
		return []string{"cycles"}
	}
	return []string{"recordings", "people"}
}

// WriteJSON writes features as an indented JSON array of objects, one for each
// column, statistics over cycles included.
func WriteJSON(w io.Writer, features []Feature) error {
	entries := make([]entry, len(features))
	for i, f := range features {
		entries[i] = entry{f.Name, f.Level, f.Level.tables(), f.Unit, f.Definition, f.Source, f.Range, f.Null, f.Scaling}
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(entries)
}
