package pipeline

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
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

// examples are the annotated recordings that a method is fitted to, and an
// account of those that could not serve.
type examples struct {
	job  *job
	keep func(*entry) bool // which recordings

	people     []string // of the recordings yielded, as models name them
	recordings int
	left       []Problem
	inputs     hash.Hash // over audio and annotations of the recordings yielded
}

// lesson is one recording as a worker made it ready.
type lesson struct {
	entry   *entry
	example segment.Example
	digest  string // of audio and annotation
	left    *Problem
}

// all yields the examples in the order of recordings, made ready on all
// workers.
func (x *examples) all(ctx context.Context) iter.Seq2[segment.Example, error] {
	return func(yield func(segment.Example, error) bool) {
		x.people, x.recordings, x.left, x.inputs = nil, 0, nil, sha256.New()
		enough := errors.New("enough")
		err := inOrder(ctx, x.job.config.Workers, x.entries, x.job.newTeacher,
			func(_ context.Context, t *teacher, e *entry) lesson { return t.prepare(e) },
			func(l lesson) error {
				if l.left != nil {
					x.left = append(x.left, *l.left)
					return nil
				}
				x.take(&l)
				if !yield(l.example, nil) {
					return enough
				}
				return nil
			})
		if err != nil && err != enough {
			yield(segment.Example{}, err)
		}
	}
}

// entries yields the recordings to keep.
func (x *examples) entries(yield func(*entry) bool) {
	for i := range x.job.entries {
		if e := &x.job.entries[i]; x.keep(e) && !yield(e) {
			return
		}
	}
}

// take notes a recording that serves.
func (x *examples) take(l *lesson) {
	x.people = append(x.people, l.entry.personKey())
	x.recordings++
	fmt.Fprintf(x.inputs, "%q %s\n", l.entry.id, l.digest)
}

// inputDigest identifies what the examples were: the ids, audio and annotations
// of all recordings yielded.
func (x *examples) inputDigest() string { return hex.EncodeToString(x.inputs.Sum(nil)) }

// teacher makes recordings ready to be learnt from. It holds the buffers of one
// worker.
type teacher struct {
	job    *job
	engine *engine // nil where there is none yet, or a panic has broken it
}

func (j *job) newTeacher() *teacher { return &teacher{job: j} }

// prepare reads audio and annotation of a recording.
func (t *teacher) prepare(e *entry) lesson {
	leave := func(outcome, reason string) lesson {
		return lesson{entry: e, left: &Problem{Recording: e.id, Outcome: outcome, Reason: reason}}
	}
	if e.recording.Unusable != "" {
		return leave(table.Excluded, e.unusable().Error())
	}
	if e.recording.Reference == "" {
		return leave(table.Excluded, eval.NoReference)
	}
	if t.engine == nil || t.engine.broken {
		t.engine = newReader(t.job)
	}
	out := t.job.describe(e)
	_, ref, err := t.engine.load(e, &out)
	if err != nil {
		fail(&out, err)
		return leave(out.recording.Outcome, out.recording.Reason)
	}
	switch {
	case ref.Kind == pcg.PointReference:
		return leave(table.Excluded, "its reference marks points, which do not say how long a state lasts")
	case ref.Kind == pcg.NoReference:
		return leave(table.Failed, out.recording.ReferenceNote)
	case ref.Empty():
		return leave(table.Excluded, out.recording.ReferenceNote)
	}
	digest := sha256.New()
	fmt.Fprintln(digest, out.recording.AudioDigest)
	for _, iv := range ref.Intervals {
		fmt.Fprintln(digest, int64(iv.Start), int64(iv.End), iv.State)
	}
	return lesson{
		entry: e, digest: hex.EncodeToString(digest.Sum(nil)),
		example: segment.Example{
			Recording: e.id, Person: e.person, Reference: ref,
			X: slices.Clone(t.engine.x), // the next recording overwrites it
		},
	}
}
