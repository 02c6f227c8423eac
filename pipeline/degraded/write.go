package degraded

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/workers"
)

// Options say what is copied, how it is changed, and where the copy goes.
type Options struct {
	Input     config.Input
	Channel   int // to read; 0 is the mean of all
	Condition degrade.Condition
	Seed      uint64
	Out       string
	Workers   int
	Overwrite bool // replace a copy that is in Out
}

// Report says what was done.
type Report struct {
	Copy     *dataset.Copy
	Warnings []string // about the data set that was copied
	Elapsed  time.Duration
}

// Count returns the number of recordings of an outcome.
func (r *Report) Count(outcome string) (n int) {
	for i := range r.Copy.Recordings {
		if r.Copy.Recordings[i].Outcome == outcome {
			n++
		}
	}
	return n
}

// Write copies a data set. The same options give the same bytes, for any number of
// workers.
func Write(ctx context.Context, o Options, p workers.Progress) (r *Report, err error) {
	started := time.Now()
	if o.Condition.Empty() {
		return nil, errors.New("no condition: say with --condition how the audio is changed, as in " + degrade.Examples()[0])
	}
	if err := o.Condition.Open(); err != nil {
		return nil, err
	}
	data, err := corpus.Open([]config.Input{o.Input}, corpus.Options{})
	if err != nil {
		return nil, err
	}
	defer data.Close()
	w := &writer{o: &o, data: data, set: data.Sets[0]}
	if err := w.list(); err != nil {
		return nil, err
	}
	if err := rundir.Make(o.Out); err != nil {
		return nil, err
	}
	l, _, err := rundir.LockFolder(o.Out, config.Shard{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	if err := clearFolder(o.Out, o.Overwrite); err != nil {
		return nil, err
	}
	if err := w.write(ctx, workers.OrSilent(p)); err != nil {
		if errors.Is(err, context.Canceled) {
			err = fmt.Errorf("interrupted: the copy in %s is not complete; make it again with --overwrite: %w", o.Out, err)
		}
		return nil, err
	}
	return &Report{Copy: &w.copy, Warnings: data.Warnings, Elapsed: time.Since(started)}, nil
}

// writer writes one copy.
type writer struct {
	o       *Options
	data    *corpus.Corpus
	set     *dataset.Set
	entries []*corpus.Entry // of copy.Recordings
	copy    dataset.Copy
}

// list fills in the record as far as it is known before a file is read.
func (w *writer) list() error {
	of := w.data.DataSets[0]
	w.copy = dataset.Copy{
		Tool: rundir.Tool, Changes: append(slices.Clone(of.Condition), dataset.Change{Condition: w.o.Condition.String(), Seed: w.o.Seed}),
		DataSet: of.Name, Title: of.Title, Version: of.Version, LayoutDigest: of.LayoutDigest, ListDigest: of.ListDigest, Channel: w.o.Channel,
	}
	for i := range w.data.Entries {
		e := &w.data.Entries[i]
		if dataset.IsRecord(e.Recording.Audio) {
			return fmt.Errorf("the audio of recording %s is a signal of a WFDB record, which is not written: change it as it is read, with --condition %s of run", e.ID, &w.o.Condition)
		}
		w.entries = append(w.entries, e)
	}
	slices.SortFunc(w.entries, func(a, b *corpus.Entry) int { return strings.Compare(a.Recording.Audio, b.Recording.Audio) })
	isAudio := map[string]bool{}
	for _, e := range w.entries {
		isAudio[e.Recording.Audio] = true
		w.copy.Recordings = append(w.copy.Recordings, dataset.CopiedRecording{Recording: e.Recording.ID, Audio: e.Recording.Audio})
	}
	files, err := w.set.Files()
	if err != nil {
		return err
	}
	for _, name := range files {
		switch {
		case isAudio[name]:
		case name == dataset.CopyFile:
			if w.set.Copy == nil {
				return fmt.Errorf("the data set has a file %s, the name of the record of a copy: give it another name", name)
			}
		case strings.EqualFold(filepath.Ext(name), ".wav"):
			w.copy.LeftOut = append(w.copy.LeftOut, name)
		default:
			w.copy.Files = append(w.copy.Files, dataset.CopiedFile{Path: name})
		}
	}
	return nil
}

// written is what a worker wrote: a recording or another file, by its number in the
// record.
type written struct {
	number    int
	recording *dataset.CopiedRecording
	file      *dataset.CopiedFile
	err       error
}

// write writes the record, all files, and the record again.
func (w *writer) write(ctx context.Context, p workers.Progress) error {
	record := filepath.Join(w.o.Out, dataset.CopyFile)
	if err := rundir.WriteJSON(record, &w.copy); err != nil {
		return err
	}
	recordings := len(w.copy.Recordings)
	p.Start("degrade", recordings)
	defer p.Done()
	err := workers.InOrder(ctx, w.o.Workers, upTo(recordings+len(w.copy.Files)),
		w.newCopier,
		func(_ context.Context, c *copier, i int) written {
			if i < recordings {
				r, err := c.recording(w.entries[i])
				return written{i, r, nil, err}
			}
			f, err := c.file(w.copy.Files[i-recordings].Path)
			return written{i - recordings, nil, f, err}
		},
		func(done written) error {
			switch {
			case done.err != nil:
				return done.err
			case done.file != nil:
				w.copy.Files[done.number] = *done.file
			default:
				w.copy.Recordings[done.number] = *done.recording
				p.Step(1)
			}
			return nil
		})
	if err != nil {
		return err
	}
	w.copy.Complete = true
	return rundir.WriteJSON(record, &w.copy)
}

func (w *writer) newCopier() *copier {
	c := &copier{set: w.set, out: w.o.Out, newDegrader: func() *degrade.Degrader { return degrade.NewDegrader(w.o.Condition, w.o.Seed) }}
	c.decoder.Channel = w.o.Channel
	return c
}

// upTo yields 0 … n−1.
func upTo(n int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := range n {
			if !yield(i) {
				return
			}
		}
	}
}
