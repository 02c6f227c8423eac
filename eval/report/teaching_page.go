package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
)

// teachingContent is what the templates of the page and of the worksheet read.
type teachingContent struct {
	*TeachingPage
	document
	Shown     []shownRecording
	Durations []durationRow
}

// Several reports whether recordings are compared.
func (c *teachingContent) Several() bool { return len(c.Shown) > 1 }

// ShowsECG reports whether a recording is shown with its ECG.
func (c *teachingContent) ShowsECG() bool {
	return slices.ContainsFunc(c.Shown, func(t shownRecording) bool { return len(t.ECG.Wave) > 0 })
}

// Sets returns a recording of each data set, in the order of the page.
func (c *teachingContent) Sets() (first []shownRecording) {
	known := make(map[string]bool)
	for _, t := range c.Shown {
		if !known[t.DataSet] {
			known[t.DataSet] = true
			first = append(first, t)
		}
	}
	return first
}

// measured is what the page says of a state in one recording.
type measured struct{ Letter, Text string }

// Measured returns what is measured of a state in all recordings with a whole cycle.
func (c *teachingContent) Measured(state string) (list []measured) {
	for _, t := range c.Shown {
		if text := t.Words[state]; text != "" {
			list = append(list, measured{t.Letter, text})
		}
	}
	return list
}

// Write writes the page, or the worksheet, as one HTML file.
func (p *TeachingPage) Write(w io.Writer) error {
	content := teachingContent{TeachingPage: p, document: newDocument(p.title(), "teaching.css")}
	cycles := make([][]pcg.CycleTimes, len(p.Recordings))
	for i := range p.Recordings {
		cycles[i] = WholeCycles(p.Recordings[i].States)
		t, err := p.shown(i, cycles[i])
		if err != nil {
			return err
		}
		content.Shown = append(content.Shown, t)
	}
	p.drawAverages(content.Shown)
	content.Durations = durationTable(cycles)
	name := "teaching.html"
	if p.Sheet {
		name = "sheet.html"
	}
	if err := templates.ExecuteTemplate(w, name, &content); err != nil {
		return fmt.Errorf("teaching page: %w", err)
	}
	return nil
}

// title names the recordings. A quiz and a worksheet do not: ids such as
// normal__201102260502 hold the answer.
func (p *TeachingPage) title() string {
	switch n := len(p.Recordings); {
	case p.Quiz:
		return "Quiz: find the heart sounds in " + tabular.Plural(n, "recording", "recordings")
	case p.Sheet:
		return "Worksheet: find the heart sounds in " + tabular.Plural(n, "recording", "recordings")
	case n == 1:
		return "Heart sounds of recording " + p.Recordings[0].Recording
	}
	var ids []string
	for i := range p.Recordings {
		ids = append(ids, p.Recordings[i].Recording)
	}
	last := len(ids) - 1
	return "Heart sounds of recordings " + strings.Join(ids[:last], ", ") + " and " + ids[last]
}
