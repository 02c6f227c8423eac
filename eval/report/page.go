package report

import (
	"fmt"
	"html/template"
	"io"
	"time"

	"phonocycle/eval"
)

// Page is the report of one or several runs over the same recordings. The first
// run is the one whose details are shown; the others stand beside it.
type Page struct {
	Title      string
	Runs       []Run
	Comparison *eval.Comparison // nil for one run
	Groups     []Group
	Audit      *eval.Audit // nil where no reference was looked at
}

// Run is what the page says of one run.
type Run struct {
	Name    string
	Summary *eval.Summary
	Details *Details
	Origin  Origin
}

// Group is recordings that are shown for one reason.
type Group struct {
	Title, Why string
	Views      []View
	audit      bool
}

// AuditGroup returns a group that stands in the section on doubted references.
func AuditGroup(title, why string, views []View) Group {
	return Group{Title: title, Why: why, Views: views, audit: true}
}

// Origin says what a run was made from, so that its figures can be traced.
type Origin struct {
	Tool, Method, Configuration, Citation string
	Options                               string // of the method, as JSON
	ConfigDigest, ModelDigest             string
	InputDigest                           string // of all audio files
	Sources                               []Source
	In, Done, Failed, Excluded            int
	Problems                              []Problem
	Warnings                              []string
	Started, Ended                        time.Time
	Platform                              string
}

// Source is a data set of a run.
type Source struct {
	Name, Title, Version, Citation string
	Recordings                     int
	ListDigest                     string
}

// Problem is a recording that failed or was excluded, and why.
type Problem struct{ Recording, Outcome, Reason string }

// Figures returns the figures of the page in its order, but for those of single
// recordings.
func (p *Page) Figures() []*Figure {
	first := &p.Runs[0]
	list := []*Figure{ToleranceFigure(p.Runs)}
	if len(p.Runs) > 1 {
		list = append(list, MethodsFigure(p.Runs))
	}
	if f := StrataFigure(first.Summary); f != nil {
		list = append(list, f)
	}
	return append(list,
		DeltaFigure(first.Summary, first.Details),
		ConfusionFigure(&first.Summary.Frames),
		RateFigure(first.Summary, first.Details),
		SystoleFigure(first.Summary, first.Details))
}

// ViewFigures returns the figures of single recordings, named by their place in
// the page.
func (p *Page) ViewFigures() []*Figure {
	var list []*Figure
	for i, g := range p.Groups {
		for j := range g.Views {
			list = append(list, g.Views[j].Figure(viewName(i, j)))
		}
	}
	return list
}

func viewName(group, view int) string { return fmt.Sprintf("recording-%d-%d", group+1, view+1) }

// pageContent is what the template of the page reads.
type pageContent struct {
	*Page
	document
	First   *Run
	Drawn   map[string]template.HTML // by name of figure
	Shown   []playerGroup            // recordings
	Doubted []playerGroup            // recordings whose reference is doubted
	Strata  []Stratum
	Doubts  []doubtCount
}

type doubtCount struct {
	Doubt      string
	Recordings int
}

// mostRows bounds the tables of single recordings in a page; all are in the
// tables of the run.
const mostRows = 5000

// Listed returns the recordings of the first run that the page lists.
func (c *pageContent) Listed() []Scored {
	return c.First.Details.Recordings[:min(len(c.First.Details.Recordings), mostRows)]
}

// Write writes the page as one file of HTML.
func (p *Page) Write(w io.Writer) error {
	content := pageContent{Page: p, document: newDocument(p.Title), First: &p.Runs[0], Drawn: make(map[string]template.HTML)}
	for _, f := range p.Figures() {
		content.Drawn[f.Name] = f.SVG()
	}
	for i, g := range p.Groups {
		shown, err := newPlayers(&g, i)
		if err != nil {
			return err
		}
		if g.audit {
			content.Doubted = append(content.Doubted, shown)
		} else {
			content.Shown = append(content.Shown, shown)
		}
	}
	content.Strata = strataOf(content.First.Summary)
	if p.Audit != nil {
		content.Doubts = doubtCounts(p.Audit)
	}
	if err := templates.ExecuteTemplate(w, "report.html", &content); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// doubtCounts lists the doubts that were found, gravest first.
func doubtCounts(a *eval.Audit) []doubtCount {
	var list []doubtCount
	for d := eval.Doubt(0); d <= eval.Unusable; d++ {
		if n := a.ByDoubt[d.String()]; n > 0 {
			list = append(list, doubtCount{d.String(), n})
		}
	}
	return list
}

// playerGroup is a group with its figures and sounds.
type playerGroup struct {
	Title, Why string
	Players    []player
}

// player is a view as the page shows it.
type player struct {
	*View
	ID     string
	Drawn  template.HTML
	Sound  template.URL
	States string  // JSON for the script
	Left   float64 // where the axis of time begins, in units of the drawing
	Right  float64
}

func newPlayers(g *Group, at int) (playerGroup, error) {
	shown := playerGroup{Title: g.Title, Why: g.Why}
	for i := range g.Views {
		p, err := newPlayer(&g.Views[i], viewName(at, i))
		if err != nil {
			return shown, err
		}
		shown.Players = append(shown.Players, p)
	}
	return shown, nil
}

func newPlayer(v *View, name string) (player, error) {
	f := v.Figure(name)
	p := player{View: v, ID: name, States: v.playerStates()}
	p.Left, p.Right = f.dataSpan()
	over := ""
	if len(v.Wave) > 0 {
		var err error
		if p.Sound, err = soundURI(v.Wave, v.WaveRate); err != nil {
			return p, fmt.Errorf("sound of recording %s: %w", v.Recording, err)
		}
		over = cursorLine(p.Left, 2, f.height.Points()-34)
	}
	p.Drawn = f.element(over)
	return p, nil
}

// Seconds returns the length of the view.
func (p *player) Seconds() float64 { return (p.To - p.From).Seconds() }
