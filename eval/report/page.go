package report

import (
	"cmp"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"phonocycle/eval"
)

// Page is the report of one or several runs over the same recordings. The first
// run is shown in detail; the others are compared with it.
type Page struct {
	Title      string
	Runs       []Run
	Comparison *eval.Comparison // nil for one run
	Audit      *eval.Audit
	Examples   []Group // recordings by score
	Audited    []Group // recordings whose reference should be reviewed, by reason
}

// Group is a group of recordings that are shown for one reason.
type Group struct {
	Title, Why string
	Views      []View
}

// figures returns the figures of the page in its order, except those of single
// recordings.
func (p *Page) figures() []*figure {
	first := &p.Runs[0]
	list := []*figure{toleranceFigure(p.Runs)}
	if len(p.Runs) > 1 {
		list = append(list, runsFigure(p.Runs))
	}
	if f := strataFigure(first.Summary); f != nil {
		list = append(list, f)
	}
	if b := first.Details.RToS1; b != nil {
		list = append(list, rToS1Figure(b, first.Summary.Rules.HeadlineMS))
	}
	list = append(list, deltaFigure(first.Summary, first.Details))
	if first.Summary.Frames.Total > 0 {
		list = append(list, confusionFigure(&first.Summary.Frames))
	}
	return append(list, agreementFigures(first.Summary, first.Details)...)
}

// FigureFiles returns all figures of the page, each as SVG, PNG and PDF.
func (p *Page) FigureFiles() ([]File, error) {
	list := p.figures()
	for _, v := range p.views() {
		list = append(list, v.figure())
	}
	var files []File
	for _, f := range list {
		drawn, err := f.files()
		if err != nil {
			return nil, err
		}
		files = append(files, drawn...)
	}
	return files, nil
}

// views returns the views of the page, and sets their ids.
func (p *Page) views() []*View {
	var list []*View
	for i, g := range slices.Concat(p.Examples, p.Audited) {
		for j := range g.Views {
			v := &g.Views[j]
			v.id = fmt.Sprintf("recording-%d-%d", i+1, j+1)
			list = append(list, v)
		}
	}
	return list
}

// ShowsECG reports whether a recording of the page is shown with its ECG.
func (p *Page) ShowsECG() bool {
	return slices.ContainsFunc(p.views(), func(v *View) bool { return len(v.ECG.Wave) > 0 })
}

// pageContent is what the template of the page reads.
type pageContent struct {
	*Page
	document
	First  *Run
	Drawn  map[string]template.HTML // figures by name
	Tables map[string]template.HTML // by name
	Others []template.HTML          // tables without a place of their own
	Listed []ScoredRecording
}

// MadeBy says for a caption how the scores of all runs arose.
func (c *pageContent) MadeBy() string {
	if len(c.Runs) == 1 {
		return c.First.Summary.MadeBy()
	}
	var list []string
	for _, r := range c.Runs {
		list = append(list, r.Name+": "+cmp.Or(r.Summary.MadeBy(), "Not stated."))
	}
	return strings.Join(list, " ")
}

// maxListed is the most recordings that the table of recordings in a page holds.
const maxListed = 5000

// Write writes the page as one HTML file.
func (p *Page) Write(w io.Writer) error {
	content := pageContent{Page: p, document: newDocument(p.Title), First: &p.Runs[0]}
	content.Drawn, content.Tables = make(map[string]template.HTML), make(map[string]template.HTML)
	for _, f := range p.figures() {
		content.Drawn[f.name] = f.svg("")
	}
	if err := content.addTables(); err != nil {
		return err
	}
	p.views() // for their ids
	all := content.First.Details.Recordings
	content.Listed = all[:min(len(all), maxListed)]
	if err := templates.ExecuteTemplate(w, "report.html", &content); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// placedTables are the tables that have a place of their own in the page.
var placedTables = []string{"scores", "strata", "timing", "agreement", runsTable}

// addTables writes the tables of the page as HTML.
func (c *pageContent) addTables() (err error) {
	for _, t := range c.tables() {
		if c.Tables[t.Name], err = tableHTML(&t); err != nil {
			return err
		}
		if !slices.Contains(placedTables, t.Name) {
			c.Others = append(c.Others, c.Tables[t.Name])
		}
	}
	return nil
}
