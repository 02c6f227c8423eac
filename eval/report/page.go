package report

import (
	"cmp"
	"fmt"
	"html/template"
	"io"
	"runtime"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"phonocycle/eval"
)

// Page is the report of one or several runs over the same recordings. The first
// run is shown in detail; the others are compared with it.
type Page struct {
	Title      string
	Runs       []Run
	Comparison *eval.Comparison // nil for one run
	Audit      *eval.Audit
	Recordings []Recording // all, in the order of the tables
	Groups     []Group     // of chosen recordings
}

// figures returns the figures of the page in its order, except those of single
// recordings.
func (p *Page) figures() []*figure {
	first := &p.Runs[0]
	list := []*figure{toleranceFigure(p.Runs)}
	if len(p.Runs) > 1 {
		list = append(list, runsFigure(p.Runs))
	}
	for _, f := range []*figure{strataChart(first.Summary), strataFigure(first.Summary)} {
		if f != nil {
			list = append(list, f)
		}
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

// FigureFiles returns all figures of the page, each as SVG, PNG and PDF. After each it
// says how many are done, and of how many.
func (p *Page) FigureFiles(each func(done, all int)) ([]File, error) {
	list := p.figures()
	for _, views := range p.chosen() {
		for _, v := range views {
			list = append(list, v.figure())
		}
	}
	made := make([][]File, len(list))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	var told sync.Mutex
	done := 0
	for i, f := range list {
		group.Go(func() (err error) {
			made[i], err = f.files()
			told.Lock()
			defer told.Unlock()
			done++
			each(done, len(list))
			return err
		})
	}
	err := group.Wait()
	return slices.Concat(made...), err
}

// ShowsECG reports whether a recording of the page is shown with its ECG.
func (p *Page) ShowsECG() bool {
	return slices.ContainsFunc(p.Recordings, func(r Recording) bool { return len(r.ECG.Wave) > 0 })
}

// ShowsSound reports whether a recording of the page is shown with its waveform.
func (p *Page) ShowsSound() bool {
	return slices.ContainsFunc(p.Recordings, func(r Recording) bool { return len(r.Wave) > 0 })
}

// shownGroup is a group with the recordings that no earlier group shows.
type shownGroup struct {
	Group
	IDs   []string // of all its recordings
	Views []*View
}

// shownGroups returns the groups as the page shows them.
func (p *Page) shownGroups() []shownGroup {
	var list []shownGroup
	for i, recordings := range p.chosen() {
		g := shownGroup{Group: p.Groups[i]}
		for _, at := range g.Recordings {
			g.IDs = append(g.IDs, p.Recordings[at].Recording)
		}
		for _, r := range recordings {
			g.Views = append(g.Views, &r.View)
		}
		list = append(list, g)
	}
	return list
}

// pageContent is what the template of the page reads.
type pageContent struct {
	*Page
	document
	First  *Run
	Drawn  map[string]template.HTML // figures by name
	Tables map[string]template.HTML // by name
	Others []template.HTML          // tables without a place of their own
	Shown  []shownGroup
	Data   *pageData
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

// Write writes the page as one HTML file.
func (p *Page) Write(w io.Writer) error {
	content := pageContent{Page: p, document: newDocument(p.Title, "report.css", "outline.js", "map.js", "recordings.js"), First: &p.Runs[0]}
	content.Drawn, content.Tables = make(map[string]template.HTML), make(map[string]template.HTML)
	for _, f := range p.figures() {
		content.Drawn[f.name] = f.svg("")
	}
	if err := content.addTables(); err != nil {
		return err
	}
	content.Shown, content.Data = p.shownGroups(), p.data()
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
