package features

import (
	"fmt"
	"math"
	"slices"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// Input is one recording and its segmentation.
type Input struct {
	Raw     []float64        // as decoded, in [−1, 1], at RawRate
	RawRate int              // Hz
	Wave    *signal.Waveform // Raw resampled to signal.AnalysisRate, otherwise unfiltered

	// Intervals are the states, sorted and disjoint; there may be gaps.
	Intervals []pcg.Interval
}

// Cycle holds one cardiac cycle: its five times and its features in the order
// of CycleFeatures. A NaN is a null.
type Cycle struct {
	At     pcg.CycleTimes
	Values []float64
}

// Features holds the features of one recording. A NaN is a null.
type Features struct {
	Cycles    []Cycle
	Recording []float64 // in the order of RecordingFeatures
}

// Extract returns the features of one recording. What cannot be measured is
// null; an error means that the input is not what Input says. Beyond what it
// returns it allocates nothing that grows with the recording, once its buffers
// have grown to the longest one.
func (e *Extractor) Extract(in Input) (Features, error) {
	if in.RawRate <= 0 {
		return Features{}, fmt.Errorf("sampling rate of the raw signal is %d Hz: want that of the file", in.RawRate)
	}
	length := max(pcg.FromSamples(int64(len(in.Wave.X)), signal.AnalysisRate), pcg.FromSamples(int64(len(in.Raw)), in.RawRate))
	if err := checkIntervals(in.Intervals, length); err != nil {
		return Features{}, err
	}
	e.raw.set(in.Raw, in.RawRate)
	e.wave = in.Wave
	e.murmur = e.murmurs.Filter(e.murmur, in.Wave.X)
	e.wavelet.Details(e.details[:], in.Wave.X)
	e.times = slices.AppendSeq(e.times[:0], WholeCycles(in.Intervals))
	out := Features{
		Cycles:    e.cycles(),
		Recording: make([]float64, len(recordingFeatures)),
	}
	e.measureRecording(&e.recording, in.Intervals, length)
	for i, f := range recordingFeatures {
		if f.ofRecording == nil {
			continue
		}
		out.Recording[i] = math.NaN()
		if in.RawRate >= f.MinRate {
			out.Recording[i] = finite(f.ofRecording(&e.recording))
		}
	}
	e.summarise(out)
	return out, nil
}

// cycles returns the features of each whole cycle.
func (e *Extractor) cycles() []Cycle {
	if len(e.times) == 0 {
		return nil
	}
	width := len(cycleFeatures)
	values := make([]float64, width*len(e.times))
	out := make([]Cycle, len(e.times))
	for i, at := range e.times {
		v := values[i*width : (i+1)*width : (i+1)*width]
		e.measureCycle(&e.cycle, at)
		for k := range cycleFeatures {
			v[k] = math.NaN()
			if e.raw.rate >= cycleFeatures[k].MinRate {
				v[k] = finite(cycleFeatures[k].ofCycle(&e.cycle))
			}
		}
		out[i] = Cycle{at, v}
	}
	return out
}
