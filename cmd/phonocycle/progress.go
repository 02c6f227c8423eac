package main

import (
	"fmt"
	"io"
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/workers"
)

// newProgress returns a progress bar over recordings if w is a terminal.
// Otherwise it returns a display that only prints notes.
func newProgress(w io.Writer) workers.Progress { return newProgressOf("recordings", w) }

// newProgressOf is newProgress for other units of work.
func newProgressOf(unit string, w io.Writer) workers.Progress {
	p, ok := w.(*printable.Writer)
	if !ok || !isTerminal(p.To) {
		return notes{w}
	}
	return &bar{notes: notes{w}, screen: p.To, unit: unit}
}

// isTerminal reports whether w is a file that stands for a terminal.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// notes prints how far a fit has come, one line per note.
type notes struct{ out io.Writer }

func (notes) Start(string, int)  {}
func (notes) Step(int)           {}
func (notes) Done()              {}
func (n notes) Note(text string) { fmt.Fprintln(n.out, text) }

// bar shows the progress of a stage, its rate and the time left.
type bar struct {
	notes
	screen io.Writer // takes the control characters of the bar
	unit   string
	bar    *progressbar.ProgressBar // nil while no stage runs
}

func (b *bar) Start(stage string, total int) {
	b.bar = progressbar.NewOptions(total,
		progressbar.OptionSetWriter(b.screen),
		progressbar.OptionSetDescription(stage),
		progressbar.OptionShowCount(),
		progressbar.OptionShowIts(),
		progressbar.OptionSetItsString(b.unit),
		progressbar.OptionSetPredictTime(true),
		progressbar.OptionFullWidth(),
		progressbar.OptionClearOnFinish(),
	)
}

func (b *bar) Step(n int) { _ = b.bar.Add(n) }

func (b *bar) Done() {
	_ = b.bar.Finish()
	b.bar = nil
}

// Note prints a note above the bar.
func (b *bar) Note(text string) {
	if b.bar == nil {
		b.notes.Note(text)
		return
	}
	_ = b.bar.Clear()
	b.notes.Note(text)
	_ = b.bar.RenderBlank()
}
