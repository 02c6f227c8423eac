package report

import (
	"fmt"
	"html/template"
	"io"
	"slices"

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
	return append(list,
		deltaFigure(first.Summary, first.Details),
		confusionFigure(&first.Summary.Frames),
		rateFigure(first.Summary, first.Details),
		systoleFigure(first.Summary, first.Details))
}

// WriteFigures writes all figures of the page into a folder, each as SVG, PNG and
// PDF, and returns the paths of the files.
func (p *Page) WriteFigures(dir string) ([]string, error) {
	list := p.figures()
	for i, g := range append(p.Examples, p.Audited...) {
		for j := range g.Views {
			list = append(list, g.Views[j].figure(viewName(i, j)))
		}
	}
	var paths []string
	for _, f := range list {
		written, err := f.write(dir)
		paths = append(paths, written...)
		if err != nil {
			return paths, err
		}
	}
	return paths, nil
}

// viewName returns the name of the figure of a recording: groups are counted
// through Examples and Audited.
func viewName(group, view int) string { return fmt.Sprintf("recording-%d-%d", group+1, view+1) }

// pageContent is what the template of the page reads.
type pageContent struct {
	*Page
	document
	First    *Run
	Drawn    map[string]template.HTML // figures by name
	Tables   map[string]template.HTML // by name
	Others   []template.HTML          // tables without a place of their own
	Examples []playerGroup
	Audited  []playerGroup
	Reasons  []reasonCount
	Listed   []ScoredRecording
}

// playerGroup is a group with the players of its recordings.
type playerGroup struct {
	Title, Why string
	Players    []player
}

// reasonCount is the number of recordings that the audit lists for one reason.
type reasonCount struct {
	Reason     string
	Recordings int
}

// maxListed is the most recordings that the table of recordings in a page holds.
const maxListed = 5000

// Write writes the page as one HTML file.
func (p *Page) Write(w io.Writer) (err error) {
	content := pageContent{Page: p, document: newDocument(p.Title), First: &p.Runs[0]}
	content.Drawn, content.Tables = make(map[string]template.HTML), make(map[string]template.HTML)
	for _, f := range p.figures() {
		content.Drawn[f.name] = f.svg("")
	}
	if err := content.addTables(); err != nil {
		return err
	}
	if content.Examples, err = newPlayers(p.Examples, 0); err != nil {
		return err
	}
	if content.Audited, err = newPlayers(p.Audited, len(p.Examples)); err != nil {
		return err
	}
	if p.Audit != nil {
		content.Reasons = countReasons(p.Audit)
	}
	all := content.First.Details.Recordings
	content.Listed = all[:min(len(all), maxListed)]
	if err := templates.ExecuteTemplate(w, "report.html", &content); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// placedTables are the tables that have a place of their own in the page.
var placedTables = []string{"scores", "strata", "timing", "agreement", "runs"}

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

// newPlayers returns the players of groups, of which the first has the given
// index.
func newPlayers(groups []Group, first int) ([]playerGroup, error) {
	list := make([]playerGroup, len(groups))
	for i, g := range groups {
		list[i] = playerGroup{Title: g.Title, Why: g.Why}
		for j := range g.Views {
			p, err := newPlayer(&g.Views[j], viewName(first+i, j))
			if err != nil {
				return nil, err
			}
			list[i].Players = append(list[i].Players, p)
		}
	}
	return list, nil
}

// countReasons counts the recordings of each reason of an audit, most serious
// reason first.
func countReasons(a *eval.Audit) []reasonCount {
	var list []reasonCount
	for d := eval.AuditReason(0); d <= eval.Unusable; d++ {
		if n := a.ByReason[d.String()]; n > 0 {
			list = append(list, reasonCount{d.String(), n})
		}
	}
	return list
}
