package report

import (
	"bytes"
	"fmt"
	"html/template"

	"phonocycle/eval"
	"phonocycle/eval/tabular"
)

// runsTable is the name of the table with a row for each run.
const runsTable = "runs"

// TableFiles returns the tables of the page, each as Markdown, LaTeX (with the
// rules of the package booktabs) and CSV.
func (p *Page) TableFiles() ([]File, error) {
	var files []File
	for _, t := range p.tables() {
		if t.Name != runsTable { // which has a column for it
			t.AddNote(p.Runs[0].Summary.MadeBy())
		}
		for _, format := range tabular.FileFormats {
			var b bytes.Buffer
			if err := t.Write(&b, format); err != nil {
				return nil, err
			}
			files = append(files, File{t.Name + format.Extension(), b.Bytes()})
		}
	}
	return files, nil
}

// tables returns the statistics of the first run and, of several runs, their
// headlines.
func (p *Page) tables() []tabular.Table {
	first := p.Runs[0]
	list := first.Summary.Tables()
	for i := range list {
		list[i].Title = first.Name + ": " + list[i].Title
	}
	if len(p.Runs) > 1 {
		fields := []tabular.Field[Run]{tabular.Words("Run", func(r Run) string { return r.Name })}
		for _, f := range eval.RatioFields() {
			fields = append(fields, tabular.Via(f, func(r Run) eval.Score { return r.Summary.HeadlineRow }))
		}
		fields = append(fields, tabular.Words("Provenance", func(r Run) string { return r.Summary.Provenance.Words() }),
			tabular.Counts("Failed", func(r Run) int { return r.Summary.Counts.Failed }))
		list = append(list, tabular.Fill(tabular.Table{Name: runsTable, Title: sentence(first.Summary.Rules.SoundsScored()) + ", pooled, in %, with 95 % intervals over people"}, p.Runs, fields...))
	}
	return list
}

// tableHTML writes a table that scrolls where it is wider than the screen.
func tableHTML(t *tabular.Table) (template.HTML, error) {
	var b bytes.Buffer
	fmt.Fprintf(&b, "<div class=\"rows\" tabindex=\"0\" role=\"group\" aria-label=\"Table %s\">\n", template.HTMLEscapeString(t.Title))
	if err := t.Write(&b, tabular.HTML); err != nil {
		return "", err
	}
	b.WriteString("</div>\n")
	return template.HTML(b.String()), nil // escaped by tabular
}
