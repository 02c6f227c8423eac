package main

import (
	"fmt"
	"io"
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"phonocycle/pipeline/workers"
)

// newProgress returns a progress bar if w is standard error and a terminal.
// Otherwise it returns a display that only prints notes.
func newProgress(w io.Writer) workers.Progress {
	if w != io.Writer(os.Stderr) || !term.IsTerminal(int(os.Stderr.Fd())) {
		return notes{w}
	}
	return &bar{notes: notes{w}}
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
	bar *progressbar.ProgressBar
}

func (b *bar) Start(stage string, total int) {
	b.bar = progressbar.NewOptions(total,
		progressbar.OptionSetWriter(b.out),
		progressbar.OptionSetDescription(stage),
		progressbar.OptionShowCount(),
		progressbar.OptionShowIts(),
		progressbar.OptionSetItsString("recordings"),
		progressbar.OptionSetPredictTime(true),
		progressbar.OptionFullWidth(),
		progressbar.OptionClearOnFinish(),
	)
}

func (b *bar) Step(n int) { _ = b.bar.Add(n) }

func (b *bar) Done() { _ = b.bar.Finish() }
