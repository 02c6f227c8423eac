package segment

import (
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/signal"
)

// sojournTimes give the sojourn distributions under a rhythm.
type sojournTimes interface {
	set(*hsmm.Sojourns, rhythm)
}

// pathFinder finds the most probable path through the frames that its decoder
// has loaded.
type pathFinder struct {
	decoder  hsmm.Decoder
	sojourns hsmm.Sojourns
	runs     []hsmm.Run // of the last path
}

// find returns the path under a rhythm as a segmentation of n samples.
func (p *pathFinder) find(times sojournTimes, r rhythm, n int) pcg.Segmentation {
	times.set(&p.sojourns, r)
	p.decoder.Decode(&p.sojourns)
	p.runs = p.decoder.Runs(p.runs[:0])
	s := pcg.Segmentation{Intervals: make([]pcg.Interval, 0, len(p.runs)), CycleLength: pcg.FromSeconds(r.cycle)}
	for _, run := range p.runs {
		s.Intervals = append(s.Intervals, interval(run.State, run.Start*hop, min(run.End*hop, n)))
	}
	return s
}

// interval returns the interval of the samples [from, to).
func interval(state pcg.State, from, to int) pcg.Interval {
	return pcg.Interval{
		Start: pcg.FromSamples(int64(from), signal.AnalysisRate),
		End:   pcg.FromSamples(int64(to), signal.AnalysisRate),
		State: state,
	}
}
