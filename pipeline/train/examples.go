package train

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"iter"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// examples are the annotated recordings that a method is fitted to, with an
// account of those that could not be used.
type examples struct {
	run  *setup.Run
	keep map[string]bool // people whose recordings are used

	people     []string // of the recordings yielded, as models name them
	audio      []segment.AudioFile
	recordings int
	unused     []rundir.Problem
	inputs     hash.Hash // over audio and annotations of the recordings yielded
}

// example is one recording as a worker has loaded it.
type example struct {
	entry  *corpus.Entry
	data   segment.Example
	audio  segment.AudioFile
	digest string // of audio and annotation
	unused *rundir.Problem
}

// all yields the examples in the order of recordings, loaded on all workers.
func (x *examples) all(ctx context.Context) iter.Seq2[segment.Example, error] {
	return func(yield func(segment.Example, error) bool) {
		x.people, x.audio, x.recordings, x.unused, x.inputs = nil, nil, 0, nil, sha256.New()
		stopped := errors.New("stopped by the caller")
		err := workers.InOrder(ctx, x.run.Config.Workers, x.entries, func() *exampleLoader { return &exampleLoader{run: x.run} },
			func(_ context.Context, l *exampleLoader, e *corpus.Entry) example { return l.load(e) },
			func(e example) error {
				if e.unused != nil {
					x.unused = append(x.unused, *e.unused)
					return nil
				}
				x.count(&e)
				if !yield(e.data, nil) {
					return stopped
				}
				return nil
			})
		if err != nil && err != stopped {
			yield(segment.Example{}, err)
		}
	}
}

// entries yields the recordings of the people to keep.
func (x *examples) entries(yield func(*corpus.Entry) bool) {
	for i := range x.run.Examples.Entries {
		if e := &x.run.Examples.Entries[i]; x.keep[e.Person] && !yield(e) {
			return
		}
	}
}

// count adds a recording that is used.
func (x *examples) count(e *example) {
	x.people = append(x.people, e.entry.PersonKey())
	x.audio = append(x.audio, e.audio)
	x.recordings++
	x.inputs.Write(e.input())
}

// input returns the line of the recording in what the digest of inputs is of.
func (e *example) input() []byte { return fmt.Appendf(nil, "%q %s\n", e.entry.ID, e.digest) }

// inputDigest identifies what the examples were: the ids, audio and annotations
// of all recordings yielded.
func (x *examples) inputDigest() string { return hex.EncodeToString(x.inputs.Sum(nil)) }

// exampleLoader loads examples. It holds the buffers of one worker.
type exampleLoader struct {
	run    *setup.Run
	loader *corpus.Loader // nil at first, and after a panic
}

// load reads audio and annotation of a recording.
func (l *exampleLoader) load(e *corpus.Entry) example {
	unused := func(outcome, reason string) example {
		return example{entry: e, unused: &rundir.Problem{Recording: e.ID, Outcome: outcome, Reason: reason}}
	}
	if err := e.Unusable(); err != nil {
		return unused(table.Excluded, err.Error())
	}
	if e.Recording.Reference == "" {
		return unused(table.Excluded, eval.NoReference)
	}
	if l.loader == nil {
		l.loader = corpus.NewLoader(&l.run.Config)
	}
	row := l.run.Describe(e)
	loaded, err := l.loader.Load(e, &row)
	if err != nil {
		if errors.As(err, new(*corpus.PanicError)) {
			l.loader = nil
		}
		corpus.Fail(&row, err)
		return unused(row.Outcome, row.Reason)
	}
	ref := loaded.Reference
	switch {
	case len(ref.Points) > 0:
		return unused(table.Excluded, "its reference marks points, which do not say how long a state lasts")
	case ref.Kind == pcg.NoReference:
		return unused(table.Failed, row.ReferenceNote)
	case ref.Empty():
		return unused(table.Excluded, row.ReferenceNote)
	}
	digest := sha256.New()
	fmt.Fprintln(digest, row.AudioDigest)
	for _, iv := range ref.Intervals {
		fmt.Fprintln(digest, int64(iv.Start), int64(iv.End), iv.State)
	}
	source := loaded.Source(e, l.run.Method.Original)
	source.Samples = slices.Clone(source.Samples) // the next recording overwrites them
	return example{
		entry: e, audio: loaded.File, digest: hex.EncodeToString(digest.Sum(nil)),
		data: segment.Example{
			Source: source, Person: e.Person, Reference: ref,
			X: slices.Clone(loaded.X),
		},
	}
}
