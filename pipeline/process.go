package pipeline

import (
	"context"
	"errors"
	"io"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/table"
)

// processor turns recordings into results, one after the other. It holds the
// plans and buffers of one worker.
type processor struct {
	job      *job
	loader   *corpus.Loader
	states   source.Func
	held     io.Closer                    // what states holds; may be nil
	measures []func(*result) (any, error) // by output; nil for an output without
	scores   []func(*result) any          // by output; nil for an output without

	broken bool // something panicked, the buffers may be in any state
}

func newProcessor(j *job) (*processor, error) {
	states, held, err := j.source.Worker(j.Run)
	if err != nil {
		return nil, err
	}
	p := &processor{
		job: j, loader: j.NewLoader(), states: states, held: held,
		measures: make([]func(*result) (any, error), len(j.outputs)), scores: make([]func(*result) any, len(j.outputs)),
	}
	for i, o := range j.outputs {
		if m, ok := o.(measurer); ok {
			p.measures[i] = m.newMeasure()
		}
		if s, ok := o.(scorer); ok {
			p.scores[i] = s.newScore()
		}
	}
	return p, nil
}

// Close releases what the source of the states holds. No recording depends on it, so
// that it cannot fail one.
func (p *processor) Close() {
	if p.held != nil {
		p.held.Close()
	}
}

// process turns one recording into its result. It never fails: what goes wrong
// becomes the outcome and the reason of the recording's row. With a verdict, the
// recording is read and fails for that reason, so that the sounds of its
// reference count as missed. A recording that needs more memory than the loader may
// give it is not processed.
func (p *processor) process(ctx context.Context, it source.Item, verdict error) *result {
	r := newResult(p.job.Run, it.Entry, len(p.job.outputs))
	err := it.Entry.Unusable()
	if err == nil {
		r.loaded, err = p.loader.Load(it.Entry, &r.row)
		r.reference = r.loaded.Reference
	}
	var large *corpus.LargeError
	if errors.As(err, &large) {
		r.needs = large.Bytes
		return r
	}
	if err == nil {
		err = verdict
	}
	if err == nil {
		err = corpus.Guard("method "+p.job.Config.Method, func() error { return p.measure(ctx, it, r) })
	}
	if err != nil {
		p.broken = errors.As(err, new(*corpus.PanicError))
		r.fail(err)
	}
	r.loaded = corpus.Loaded{}
	for i, score := range p.scores {
		if score != nil {
			r.values[i] = score(r)
		}
	}
	return r
}

// measure gets the states of a recording that was read, and the values that the
// outputs compute of it.
func (p *processor) measure(ctx context.Context, it source.Item, r *result) (err error) {
	if r.States, err = p.states(ctx, it, &r.loaded, &r.row); err != nil {
		return err
	}
	for i, measure := range p.measures {
		if measure == nil {
			continue
		}
		if r.values[i], err = measure(r); err != nil {
			return err
		}
	}
	r.row.Outcome = table.Done
	return nil
}
