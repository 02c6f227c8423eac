package segment

import (
	"context"
	"errors"
	"fmt"
	"math"

	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// shannonPeaks is the method of Liang, Lukkarinen and Hartimo 1997.
//
// The average Shannon energy of frames of 20 ms every 10 ms, standardised over
// the recording, is the envelope. Stretches above a threshold hold one sound
// each, at their peak. The mean and SD of the intervals between peaks give two limits:
// an interval below the lower has a peak too many, one above the higher has lost a
// sound, for which the threshold is lowered. Diastole is the longer interval, and
// systole the constant one: from the longest interval the sounds are named in both
// directions.
var shannonPeaks = Method{
	Name:  "shannon-peaks",
	Title: "peaks of the normalised average Shannon energy",
	Paper: citation.Work{
		Authors: []string{"Liang H", "Lukkarinen S", "Hartimo I"}, Title: "Heart sound segmentation algorithm based on heart sound envelogram",
		Proceedings: "Computers in Cardiology", Year: 1997, Volume: "24", Pages: "105-108", DOI: "10.1109/CIC.1997.647841",
	},
	Differs: []string{
		"The signal is at 1 kHz, band-passed from 25 to 400 Hz and freed of spikes; the paper low-passes it at 882 Hz at 2,205 Hz (from memory, medium confidence).",
		"It is scaled by a high quantile of the amplitudes, not by the largest: Shannon energy is zero at the scale, so that a single click, taken for the scale, would hide all else.",
		"The paper sets the threshold for each recording (from memory, medium confidence). Here eight are tried, and that is kept whose sounds fill most of the recording with regular cycles: a constant systole, no longer than hearts have, and a diastole within a tolerance of a quarter. The paper's own numbers are not known to us.",
		"The usual systole and diastole are medians of the shorter and the longer of two intervals in a row, so that one lost or extra peak does not exchange them. The longest interval, which begins the naming, is no longer than such a diastole may be, since one that is has lost a sound.",
		"A sound that is still missing after the threshold was lowered is put where the other beats let it be expected, so that the states stay in order.",
	},
	Defaults: func() any { return defaultShannonOptions() },
	New: func(options any, _ []byte) (Segmenter, error) {
		return &shannonSegmenter{options: *options.(*shannonOptions), frontEnd: newFrontEnd()}, nil
	},
}

// errNoSounds is wrapped where fewer than two sounds stand out of a recording.
var errNoSounds = errors.New("no rhythm of sounds found")

// shannonSegmenter is a segmenter by the method shannon-peaks.
type shannonSegmenter struct {
	options  shannonOptions
	frontEnd *frontEnd
	work     []float64
	envelope []float64
	picker   peakPicker
	sounds   []sound // of the best threshold
	tried    []sound
}

// Segment implements Segmenter. The confidence is the share of the recording in regular
// cycles.
func (s *shannonSegmenter) Segment(ctx context.Context, in *Input) (pcg.Segmentation, error) {
	if err := ctx.Err(); err != nil {
		return pcg.Segmentation{}, err
	}
	if err := s.frontEnd.load(in.Waveform); err != nil {
		return pcg.Segmentation{}, err
	}
	s.observe()
	beat, regularity := s.nameBest()
	if len(s.sounds) < 2 {
		return pcg.Segmentation{}, fmt.Errorf("%w: fewer than two peaks of the envelope above %g standard deviations: lower the threshold, or leave the recording out", errNoSounds, s.options.Floor)
	}
	markBoundaries(s.sounds, s.envelope, s.options.Edge)
	return pcg.Segmentation{
		Intervals:           soundIntervals(s.sounds, len(in.X)),
		Confidence:          regularity,
		ExchangeProbability: math.NaN(),
		CycleLength:         pcg.FromSeconds((beat.systole + beat.diastole) / shannonRate),
	}, nil
}

// thresholds is the number of thresholds that are tried.
const thresholds = 8

// nameBest picks and names the sounds above the threshold, of those between the highest
// and the lowest of the options, that gives most time in regular cycles; the highest of
// equals.
func (s *shannonSegmenter) nameBest() (best beat, regularity float64) {
	regularity = -1
	s.sounds = s.sounds[:0]
	for k := range thresholds {
		threshold := s.options.Threshold - (s.options.Threshold-s.options.Lowest)*float64(k)/(thresholds-1)
		peaks := s.picker.pick(s.envelope, &s.options, threshold)
		if len(peaks) < 2 {
			continue
		}
		var b beat
		s.tried, b = nameSounds(s.tried[:0], peaks)
		if r := b.regularity(s.tried, len(s.envelope)); r > regularity {
			best, regularity = b, r
			s.sounds, s.tried = s.tried, s.sounds
		}
	}
	return best, regularity
}

// observe computes the envelope of the recording in the front end.
func (s *shannonSegmenter) observe() {
	x := s.frontEnd.clean
	s.work = grow(s.work, len(x))
	for i, v := range x {
		s.work[i] = math.Abs(v)
	}
	scale := quantile(s.work, s.options.Scale)
	if scale == 0 {
		scale = 1
	}
	for i, v := range x {
		s.work[i] = v / scale
	}
	s.envelope = signal.ShannonEnergy(s.envelope, s.work, shannonWidth, shannonHop)
	signal.Standardise(s.envelope)
}
