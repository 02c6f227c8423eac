package eval

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// table gives F1 by method and data set.
func (o *Overview) table() tabular.Table {
	notes := o.footnotes()
	fields := []tabular.Field[string]{tabular.Words("Method", func(method string) string { return method })}
	for i, head := range o.heads() {
		f := tabular.Intervals(head, tabular.Percent, func(method string) (value, low, high Ratio) {
			if c := o.cell(method, i); c != nil {
				return c.Score.F1, c.Score.Low, c.Score.High
			}
			return null(), null(), null()
		})
		if o.Columns[i].Name == "" {
			f = f.Under(o.Columns[i].DataSet)
		}
		fields = append(fields, f.Marked(func(method string) string {
			if c := o.cell(method, i); c != nil {
				return notes.marks(c)
			}
			return ""
		}))
	}
	return tabular.Fill(tabular.Table{Name: "overview", Title: "F1 of methods on several data sets", Note: o.note() + notes.text()}, o.Methods, fields...)
}

// differing says in which of the rules that a head states the columns differ.
func (o *Overview) differing() (sounds, anchor, tolerance bool) {
	first := &o.Columns[0].Rules
	for i := range o.Columns {
		r := &o.Columns[i].Rules
		sounds = sounds || r.HeadlineClass() != first.HeadlineClass()
		anchor = anchor || r.Anchor != first.Anchor
		tolerance = tolerance || r.HeadlineMS != first.HeadlineMS
	}
	return sounds, anchor, tolerance
}

// heads returns the heads of the columns: the name of the design or, below that of the
// data set, the reference; and the rules in which the columns differ.
func (o *Overview) heads() []string {
	sounds, anchor, tolerance := o.differing()
	var list []string
	for i := range o.Columns {
		c := &o.Columns[i]
		var parts []string
		add := func(say bool, text string) {
			if say && text != "" {
				parts = append(parts, text)
			}
		}
		twin := slices.ContainsFunc(o.Columns, func(d OverviewColumn) bool {
			return d.DataSet == c.DataSet && d.Version != c.Version
		})
		if c.Name != "" {
			add(true, c.Name)
		} else {
			add(true, c.Rules.Reference)
			add(twin, c.Version)
			add(true, c.Selection)
		}
		add(sounds, c.Rules.soundsShort())
		add(anchor, c.Rules.Anchor.String())
		add(tolerance, fmt.Sprintf("%g ms", c.Rules.HeadlineMS))
		list = append(list, cmp.Or(strings.Join(parts, ", "), "F1"))
	}
	return list
}

// soundsShort names the sounds that are scored.
func (r *RulesSummary) soundsShort() string {
	if r.S1Only() {
		return "S1"
	}
	return "S1 and S2"
}

// note states the rules of each column.
func (o *Overview) note() string {
	note := fmt.Sprintf("F1 in %%, pooled over events, with 95 %% intervals by bootstrap over people (%d resamples). "+
		"Columns are of different recordings or by different rules: compare methods within a column only.", o.Resamples)
	for i := range o.Columns {
		c := &o.Columns[i]
		note += fmt.Sprintf(" %s: %s %s, %s of %s%s.", join([]string{c.Name, strings.TrimSpace(c.DataSet + " " + c.Version)}), c.Rules.soundsShort(), c.Rules.headline(),
			tabular.Plural(c.Recordings, "recording", "recordings"), tabular.Plural(c.People, "person", "people"), prefixed(", ", c.Selection))
		if c.LeftOut > 0 {
			note += fmt.Sprintf(" %s of people in the training data left out.", tabular.Plural(c.LeftOut, "recording", "recordings"))
		}
	}
	return note + fmt.Sprintf(" Matching: %s.", o.Columns[0].Rules.Matching)
}

// footnotes are what is to be said of single cells, each text once.
type footnotes []string

// footnotes collects the texts of all cells, in the order of rows.
func (o *Overview) footnotes() footnotes {
	var list footnotes
	for _, method := range o.Methods {
		for i := range o.Columns {
			c := o.cell(method, i)
			if c == nil {
				continue
			}
			for _, text := range c.notes() {
				if !slices.Contains(list, text) {
					list = append(list, text)
				}
			}
		}
	}
	return list
}

// notes says of a cell what its column does not: how the score arose, and which
// recordings failed.
func (c *OverviewCell) notes() []string {
	r := c.ComparedRun
	r.Provenance.People, r.Provenance.Recordings = "", "" // the head has them
	var list []string
	if text := r.origin(); text != "" {
		list = append(list, text+".")
	}
	if c.Failed > 0 {
		list = append(list, fmt.Sprintf("%d of %s failed; all sounds in them count as missed.", c.Failed, tabular.Plural(c.Recordings, "recording", "recordings")))
	}
	return list
}

// marks returns the numbers of the footnotes of a cell.
func (f footnotes) marks(c *OverviewCell) string {
	var list []string
	for _, text := range c.notes() {
		list = append(list, fmt.Sprint(slices.Index(f, text)+1))
	}
	return strings.Join(list, ",")
}

// text lists the footnotes.
func (f footnotes) text() string {
	text := ""
	for i, note := range f {
		text += fmt.Sprintf(" [%d] %s", i+1, note)
	}
	return text
}

// cellTable gives each cell a row with its rules, for programs.
func (o *Overview) cellTable() tabular.Table {
	run := func(f tabular.Field[*ComparedRun]) tabular.Field[OverviewCell] {
		return tabular.Via(f, func(c OverviewCell) *ComparedRun { return &c.ComparedRun })
	}
	score := func(f tabular.Field[Score]) tabular.Field[OverviewCell] {
		return tabular.Via(f, func(c OverviewCell) Score { return c.Score })
	}
	fields := []tabular.Field[OverviewCell]{run(nameColumn).Renamed("Method")}
	fields = append(fields, ruleFields(func(c OverviewCell) (*ComparedRun, *RulesSummary) { return &c.ComparedRun, &o.Columns[c.Column].Rules })...)
	fields = append(fields,
		tabular.Words("Selection", func(c OverviewCell) string { return o.Columns[c.Column].Selection }),
		run(scoredColumn), run(failedColumn), score(soundsColumn), score(tpColumn), score(fpColumn), score(fnColumn),
		score(recallColumn), score(precisionColumn), score(f1Column), run(costColumn), run(provenanceColumn))
	return tabular.Fill(tabular.Table{Name: "overview"}, o.Cells, fields...)
}

// WriteTable writes the table for a paper; as CSV one row for each cell, with its
// rules.
func (o *Overview) WriteTable(w io.Writer, format tabular.Format) error {
	if format == tabular.CSV {
		return o.cellTable().Write(w, format)
	}
	return o.table().Write(w, format)
}

// WriteText writes o for a reader at a terminal.
func (o *Overview) WriteText(w io.Writer) error {
	var b bytes.Buffer
	writeTables(&b, []tabular.Table{o.table()})
	return writeText(w, &b, o.Warnings)
}
