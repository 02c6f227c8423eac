package main

import (
	"io"
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"phonocycle/pipeline"
)

// bar shows the progress of a stage, its rate and the time that remains.
type bar struct {
	out io.Writer
	bar *progressbar.ProgressBar
}

// newProgress returns a progress display on standard error where that is a
// terminal, and nil, which shows nothing, elsewhere.
func newProgress() pipeline.Progress {
	if !term.IsTerminal(int(os.Stderr.Fd())) {
		return nil
	}
	return &bar{out: os.Stderr}
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
