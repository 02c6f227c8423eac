package setup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/table"
)

// Segmenter applies the method of a run to recordings. It holds the buffers of
// one worker, who closes it.
type Segmenter struct {
	run   *Run
	whole segment.Segmenter   // of a run without folds
	folds []segment.Segmenter // of a cross-validation, made when first needed
}

// NewSegmenter returns a segmenter for one worker.
func (r *Run) NewSegmenter() (*Segmenter, error) {
	s := &Segmenter{run: r}
	if r.foldModels != nil {
		s.folds = make([]segment.Segmenter, len(r.foldModels))
		return s, nil
	}
	whole, err := r.Method.Segmenter(r.Method.Model)
	s.whole = whole
	return s, err
}

// UseFolds makes a cross-validation segment the recordings of each fold with
// the model of that fold; nil for a method without models.
func (r *Run) UseFolds(models [][]byte) {
	r.foldModels = models
	for _, m := range models {
		r.foldDigests = append(r.foldDigests, rundir.Digest(m))
	}
}

// of returns the segmenter of an entry.
func (s *Segmenter) of(e *corpus.Entry) (segment.Segmenter, error) {
	if s.folds == nil {
		return s.whole, nil
	}
	fold := *e.Fold()
	if s.folds[fold] == nil {
		made, err := s.run.Method.Segmenter(s.run.foldModels[fold])
		if err != nil {
			return nil, err
		}
		s.folds[fold] = made
	}
	return s.folds[fold], nil
}

// Segment returns the states of a recording, from its first sample to its last,
// and fills in what its row says about the segmentation.
func (s *Segmenter) Segment(ctx context.Context, e *corpus.Entry, r *corpus.Loaded, row *table.Recording) (pcg.Segmentation, error) {
	method := s.run.Method
	segmenter, err := s.of(e)
	if err != nil {
		return pcg.Segmentation{}, err
	}
	var seg pcg.Segmentation
	s.run.Spent.segment(r.Clip.Duration(), func() {
		seg, err = segmenter.Segment(ctx, &segment.Input{Waveform: r.Waveform, Source: r.Source(e, method.Original)})
	})
	if errors.Is(err, context.DeadlineExceeded) {
		late := s.run.TooLong()
		if err != context.DeadlineExceeded {
			late = fmt.Errorf("%w; %w", late, err)
		}
		return pcg.Segmentation{}, late
	}
	if err != nil {
		return pcg.Segmentation{}, fmt.Errorf("method %s: %w", method.Name, err)
	}
	if err := seg.Check(pcg.FromSamples(int64(len(r.X)), signal.AnalysisRate)); err != nil {
		return pcg.Segmentation{}, fmt.Errorf("method %s: %w: a fault of the method; report it with the recording", method.Name, err)
	}
	row.Confidence, row.ExchangeProbability = seg.Confidence, seg.ExchangeProbability
	if seg.CycleLength > 0 {
		length := seg.CycleLength
		row.CycleLength = &length
		row.HeartRate = time.Minute.Seconds() / length.Seconds()
	}
	seg.Intervals = cutAt(seg.Intervals, r.Clip.Duration())
	return seg, nil
}

// Close closes the segmenters that hold more than memory.
func (s *Segmenter) Close() error {
	var err error
	for _, made := range append(s.folds, s.whole) {
		if c, ok := made.(io.Closer); ok {
			err = errors.Join(err, c.Close())
		}
		if p, ok := made.(segment.Program); ok {
			s.run.Spent.segmenting.Add(int64(p.ProcessTime()))
			s.run.Spent.repeated.Add(int64(p.Repeated()))
		}
	}
	return err
}

// TooLong says that the method has used up its time.
func (r *Run) TooLong() error {
	return fmt.Errorf("method %s gave no result within the time limit of %v: raise --time-limit, or cut the recording",
		r.Method.Name, r.Config.TimeLimit)
}

// cutAt ends intervals at the end of the recording: the analysis rate rounds its
// length up to a whole sample.
func cutAt(intervals []pcg.Interval, end time.Duration) []pcg.Interval {
	for n := len(intervals); n > 0; n-- {
		if last := &intervals[n-1]; last.Start < end {
			last.End = min(last.End, end)
			return intervals[:n]
		}
	}
	return nil
}
