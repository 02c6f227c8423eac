package report

import (
	"fmt"
	"io"
	"time"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
)

// TeachingPage explains the heart sounds by recordings, for a lecture or for
// reading at home. Several recordings stand on one time axis, so that their rates
// and durations can be compared.
type TeachingPage struct {
	Recordings []TeachingRecording
	Stretch    time.Duration // length of the time axis

	// Quiz hides states, labels and names until the reader asks for them.
	Quiz bool
	// Sheet makes a worksheet of two printed pages in place of the page: signals to
	// be marked by hand, and the same with the states.
	Sheet bool
}

// TeachingRecording is a recording of a teaching page.
type TeachingRecording struct {
	Recording string
	DataSet   string // title and version
	Citation  string
	Labels    []Fact // what the data set says of it, in the words of the data set
	StatesBy  string // who or what marked the states, as in "the method conv-hsmm"

	States   []pcg.Interval
	Length   time.Duration // of the recording
	From, To time.Duration // the stretch that is drawn and played
	Sound    Sound         // of the whole recording
	ECG      ECG           // of the whole recording; empty where there is none

	ECGText string // where the ECG comes from or why it is not shown; empty where there is none
}

// MaxTeachingRecordings is the largest number of recordings that a teaching page
// compares: as many as fit on one printed page.
const MaxTeachingRecordings = 4

// TeachingStretch is the usual length of the stretch that a teaching page shows:
// few enough beats to be seen from the last row of a lecture hall.
const TeachingStretch = 5 * time.Second

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
	for _, t := range c.Shown {
		if len(t.ECG.Wave) > 0 {
			return true
		}
	}
	return false
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
	title := "Heart sounds of recordings "
	for i := range p.Recordings {
		switch i {
		case 0:
		case len(p.Recordings) - 1:
			title += " and "
		default:
			title += ", "
		}
		title += p.Recordings[i].Recording
	}
	return title
}
