// Package segment finds the four states of the heart cycle in a recording: S1,
// systole, S2 and diastole, from its first sample to its last.
//
// # Methods
//
// A [Method] is a published way of doing so, under a name: [Methods] lists
// them, [Lookup] finds one. From its options, and the parameters that it was
// fitted with where it needs any, a method makes a [Segmenter].
//
// All methods but the oldest share one idea. A recording is described by
// frames of 20 ms. For each frame an envelope with a normal distribution, a
// logistic regression or a network says how well it fits each of the four
// states. The states follow each other in a fixed order, and each lasts a
// time, its sojourn, whose distribution follows from the cycle length. The
// segmentation is the most probable path through both: a hidden semi-Markov
// model, decoded by dynamic programming (package hsmm).
//
// # What a segmentation claims
//
// Its intervals tile the recording in cyclic order: a method answers even
// where it hears nothing. [pcg.Segmentation.Confidence] says how far to trust
// it. None of this is a diagnosis.
package segment

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// Segmenter segments recordings, one at a time. It owns buffers and must not
// be shared between goroutines; the segmentations it returns are fresh.
type Segmenter interface {
	// Segment segments a recording, in any unit. Errors wrap errTooShort,
	// errSilent, errNotFinite or the error of ctx.
	Segment(ctx context.Context, in *Input) (pcg.Segmentation, error)
}

// Program is a segmenter that asks processes of a program. When it is closed, it says
// how much processor time they have spent, and how many recordings were given to a new
// process since the one before could not go on.
type Program interface {
	ProcessTime() time.Duration
	Repeated() int
}

// Input is a recording to segment: its waveform, which is all that the methods of
// this package read, and where it comes from.
type Input struct {
	*signal.Waveform
	Source
}

// NewInput returns the input of samples at [signal.AnalysisRate] of which nothing
// more is known.
func NewInput(x []float64) *Input { return &Input{Waveform: signal.NewWaveform(x)} }

// Source is what is known of a recording beside its samples at the analysis rate.
// Methods outside this package may ask for it.
type Source struct {
	Recording string
	Labels    pcg.Labels
	File      string    // path of its audio; empty where there is no file
	Samples   []float64 // as recorded, in [-1, 1]; only where [Method.Original] asks for them
	Rate      int       // of Samples, in hertz
}

// shortestRecording is the least duration of a recording that methods accept. At 60
// beats a minute it holds one cycle; less cannot show a rhythm.
const shortestRecording = time.Second

// What makes a recording unfit for segmentation.
var (
	errTooShort  = errors.New("recording too short")
	errSilent    = errors.New("recording is silent")
	errNotFinite = errors.New("sample is not a finite number")
)

// checkInput reports why x cannot be segmented, if so.
func checkInput(x []float64) error {
	if got := pcg.FromSamples(int64(len(x)), signal.AnalysisRate); got < shortestRecording {
		return fmt.Errorf("%w: %.3f s: want at least %.0f s", errTooShort, got.Seconds(), shortestRecording.Seconds())
	}
	if p := simd.MaxAbs(x); !(p <= math.MaxFloat64) {
		i := slices.IndexFunc(x, func(v float64) bool { return !(math.Abs(v) <= math.MaxFloat64) })
		return fmt.Errorf("%w: sample %d is %v", errNotFinite, i, x[i])
	}
	if !slices.ContainsFunc(x, func(v float64) bool { return v != x[0] }) {
		return fmt.Errorf("%w: all %d samples are %g", errSilent, len(x), x[0])
	}
	return nil
}
