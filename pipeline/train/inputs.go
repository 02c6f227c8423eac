package train

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/workers"
)

// inputs identifies the recordings of all annotated people. It reads them once, for
// all models that are checked against them.
type inputs struct {
	run        *setup.Run
	recordings []input // those that can be used; nil before they are read
}

// input is what a digest of inputs has of one recording.
type input struct {
	person string
	line   []byte
}

// digest returns what the digest of a fit to the given people is, see
// [examples.inputDigest].
func (in *inputs) digest(ctx context.Context, keep map[string]bool) (string, error) {
	if in.recordings == nil {
		if err := in.read(ctx); err != nil {
			return "", err
		}
	}
	sum := sha256.New()
	for _, r := range in.recordings {
		if keep[r.person] {
			sum.Write(r.line)
		}
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// model returns the model in content, the file at path, and whether it was fitted to the
// given people and to their recordings as they are now.
func (in *inputs) model(ctx context.Context, path string, content []byte, keep map[string]bool) (m *segment.Model, same bool, err error) {
	if m, err = segment.ParseModel(content, in.run.Method.Name); err != nil {
		return nil, false, fmt.Errorf("%s: %w; remove it to fit it anew", path, err)
	}
	now, err := in.digest(ctx, keep)
	return m, now == m.Inputs, err
}

// read reads the recordings.
func (in *inputs) read(ctx context.Context) error {
	x := &examples{run: in.run, keep: map[string]bool{}}
	for _, person := range annotatedPeople(in.run, noFold) {
		x.keep[person] = true
	}
	return workers.InOrder(ctx, in.run.Config.Workers, x.entries, func() *exampleLoader { return &exampleLoader{run: in.run} },
		func(_ context.Context, l *exampleLoader, e *corpus.Entry) example { return l.load(e) },
		func(e example) error {
			if e.unused == nil {
				in.recordings = append(in.recordings, input{e.entry.Person, e.input()})
			}
			return nil
		})
}
