// Package dictionary explains the columns of all tables: features, bookkeeping and the
// labels of the built-in layouts.
package dictionary

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
	"phonocycle/features"
	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/table/export"
)

// Dictionary says what columns of the tables mean.
type Dictionary []Meaning

// Meaning is what is said of a column. A name that means different things in
// different tables has several.
type Meaning struct {
	Name       string   `json:"name"`
	Tables     []string `json:"tables"`
	Unit       string   `json:"unit,omitempty"`
	Definition string   `json:"definition"`
	Source     string   `json:"source,omitempty"`
	Range      string   `json:"range,omitempty"`
	Null       string   `json:"null,omitempty"`
}

// Explain returns what the named columns mean, of whatever table they are. Names may be
// patterns as [export.SelectColumns] takes them.
func Explain(names []string) (Dictionary, error) {
	all := allColumns()
	known := all.names()
	selected, err := export.SelectColumns("the dictionary", names, known)
	if err != nil {
		return nil, err
	}
	var d Dictionary
	for _, name := range selected {
		before := len(d)
		for _, c := range all {
			if c.Name == name {
				d = append(d, c)
			}
		}
		if len(d) == before {
			return nil, export.UnknownColumn("the dictionary", name, known)
		}
	}
	return d, nil
}

// Names returns the names of the columns of all tables, in their order, each once.
func Names() []string { return allColumns().names() }

func (d Dictionary) names() []string {
	var names []string
	seen := map[string]bool{}
	for _, c := range d {
		if !seen[c.Name] {
			seen[c.Name] = true
			names = append(names, c.Name)
		}
	}
	return names
}

// allColumns returns the columns of all tables, those with one meaning once.
func allColumns() Dictionary {
	recording, cycle := pipeline.ColumnsOf(features.RecordingFeatures()), pipeline.ColumnsOf(features.CycleFeatures())
	rules := config.DefaultWindowRules()
	vectors := pipeline.WindowColumns(nil, rules.Samples())
	labels := layoutLabels()
	var d Dictionary
	at := map[[2]string]int{} // by name and definition
	add := func(name string, lists ...[]table.Column) {
		for _, c := range slices.Concat(lists...) {
			key := [2]string{c.Name, c.Doc}
			i, ok := at[key]
			if !ok {
				i = len(d)
				at[key] = i
				d = append(d, Meaning{Name: c.Name, Unit: c.Unit, Definition: c.Doc, Source: c.Source, Range: c.Range, Null: c.Null})
			}
			d[i].Tables = append(d[i].Tables, name)
		}
	}
	add(table.Recording{}.Table().Name, table.Fields[table.Recording](), labels, recording)
	add(table.State{}.Table().Name, table.Fields[table.State]())
	add(table.Cycle{}.Table().Name, table.Fields[table.Cycle](), labels, cycle)
	add(table.Person{}.Table().Name, table.Fields[table.Person](), labels, pipeline.PersonColumns(recording))
	add(table.Window{}.Table().Name, table.Fields[table.Window](), labels, vectors)
	add(table.Match{}.Table().Name, table.Fields[table.Match]())
	add(table.Score{}.Table().Name, table.Fields[table.Score]())
	return d
}

// layoutLabels returns the labels of the built-in layouts as columns.
func layoutLabels() []table.Column {
	var columns []table.Column
	for _, name := range dataset.LayoutNames() {
		l, err := dataset.LoadLayout(name)
		if err != nil {
			continue // its own test says so
		}
		for _, label := range l.LabelNames() {
			columns = append(columns, table.Column{Name: label, Doc: fmt.Sprintf("%s, in data set %s", l.LabelDoc(label), l.Name)})
		}
	}
	return columns
}

// WriteText writes the meanings for a reader.
func (d Dictionary) WriteText(w io.Writer) error {
	var b bytes.Buffer
	for i, c := range d {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(c.Name)
		if c.Unit != "" && c.Unit != "1" {
			fmt.Fprintf(&b, ", in %s", c.Unit)
		}
		fmt.Fprintf(&b, " (%s)\n", strings.Join(c.Tables, ", "))
		tabular.Wrap(&b, "  ", c.Definition)
		for _, more := range [...]struct{ name, text string }{{"range", c.Range}, {"null", c.Null}, {"source", c.Source}} {
			if more.text != "" {
				tabular.Wrap(&b, "  ", more.name+": "+more.text)
			}
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}
