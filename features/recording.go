package features

import (
	"math"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// Frames of the envelope, which rhythm and complexity are measured on.
const (
	frameRate   = 50 // Hz
	frameHop    = Rate / frameRate
	acfSeconds  = 5
	shortestLag = 14  // frames: 0.28 s, 214 beats a minute
	longestLag  = 100 // frames: 2 s, 30 beats a minute

	// An envelope whose variance is this part of its squared mean varies by
	// rounding alone.
	constant = 1e-18
)

// recording is what the function of a recording feature sees: everything that
// several features need of one recording, computed once. It holds no more
// than the segmentation needs for heart rate and signal-to-noise ratio.
type recording struct {
	cycles []bounds
	length time.Duration

	raw             []float64
	rawRate         int
	rawMean         float64
	rawPower        float64 // mean (raw − mean raw)²
	rawLow, rawHigh extreme

	x, y   []float64
	level  level
	silent bool
	// Mean square of y in the sounds and between them; NaN without samples.
	soundPower, pausePower float64

	spectrum  signal.Spectrum // Welch of x; empty where silent
	shape     signal.Shape    // of the spectrum at 25 to 400 Hz
	highShare float64         // of the raw signal

	frames   []float64 // of the envelope, 50 Hz
	arranged []float64 // the frames in another order
	moments  moments   // of the frames
	acf      []float64 // biased autocorrelation of the frames to 5 s
	rhythm   rhythm
	entropy  sampleEntropy
	windowed []float64 // greatest |y| of each half second
}

// extreme is the least or the greatest raw sample.
type extreme struct {
	value    float64
	from, to int // all samples that have it lie between
}

// take makes v, met from one sample to another, the extreme where it is beyond what
// was met before.
func (e *extreme) take(v float64, beyond bool, from, to int) {
	if beyond {
		*e = extreme{v, from, to}
	} else if v == e.value {
		e.to = to
	}
}

// viewRecording fills r with what prepare has made.
func (e *Extractor) viewRecording(r *recording, intervals []pcg.Interval, length time.Duration) {
	r.cycles, r.length = e.bounds, length
	r.raw, r.rawRate = e.raw.x, e.raw.rate
	r.viewRaw()
	r.x, r.y = e.x, e.y
	r.level = level{meanAbs: math.NaN(), meanSquare: math.NaN(), peak: math.NaN()}
	if len(r.y) > 0 {
		r.level = levelOf(r.y)
	}
	r.silent = !(r.level.rms() >= silence)
	r.soundPower, r.pausePower = powers(r.y, intervals)

	r.spectrum.Density = r.spectrum.Density[:0]
	r.highShare = math.NaN()
	if !r.silent && len(r.x) >= spectrumLeast {
		r.spectrum = e.welch.Estimate(r.spectrum, r.x, Rate)
		r.shape.Of(r.spectrum.Band(bandLow, bandHigh))
		if e.raw.decimator != nil {
			e.raw.spectrum = e.raw.welch.Estimate(e.raw.spectrum, e.raw.v, e.raw.vRate)
			r.highShare = highShare(e.raw.spectrum)
		}
	}
	e.viewRhythm(r)
}

// viewRaw fills in what is measured on the raw samples. It takes them in stretches
// that stay in the cache of a processor core from one measure to the next.
func (r *recording) viewRaw() {
	const stretch = 2048
	var sum, square float64
	r.rawLow, r.rawHigh = extreme{value: math.NaN()}, extreme{value: math.NaN()}
	for from := 0; from < len(r.raw); from += stretch {
		to := min(from+stretch, len(r.raw))
		x := r.raw[from:to]
		low, high := simd.Limits(x)
		r.rawLow.take(low, !(low >= r.rawLow.value), from, to)
		r.rawHigh.take(high, !(high <= r.rawHigh.value), from, to)
		sum += simd.Sum(x)
		square += simd.Dot(x, x)
	}
	n := float64(len(r.raw))
	r.rawMean = sum / n
	r.rawPower = square/n - r.rawMean*r.rawMean
	// Where next to nothing is left of the square, much of it is its rounding.
	if !(r.rawPower > 1e-3*square/n) {
		r.rawPower = squares(r.raw, r.rawMean) / n
	}
}

// viewRhythm fills in what is measured on the frames of the envelope.
func (e *Extractor) viewRhythm(r *recording) {
	r.frames = r.frames[:0]
	if !r.silent {
		whole := len(e.envelope) / frameHop * frameHop
		r.frames = signal.FrameMeans(r.frames, e.envelope[:whole], frameHop)
	}
	r.moments = momentsOf(r.frames)
	if r.moments.second <= constant*r.moments.mean*r.moments.mean {
		r.frames = r.frames[:0]
		r.moments = momentsOf(r.frames)
	}
	r.acf = r.acf[:0]
	if len(r.frames) > acfSeconds*frameRate {
		r.acf = e.autocorrelate.Biased(r.acf, r.frames, acfSeconds*frameRate)
	}
	r.rhythm = rhythmOf(r.frames)
}

// powers returns the mean square of y in S1 and S2 and in systole and
// diastole.
func powers(y []float64, intervals []pcg.Interval) (sounds, pauses float64) {
	var sum, count [2]float64
	for _, iv := range intervals {
		which := 1
		switch {
		case iv.State == pcg.Unannotated:
			continue
		case iv.State.IsSound():
			which = 0
		}
		part := y[min(pcg.ToSamples(iv.Start, Rate), len(y)):min(pcg.ToSamples(iv.End, Rate), len(y))]
		sum[which] += energy(part)
		count[which] += float64(len(part))
	}
	return ratio(sum[0], count[0]), ratio(sum[1], count[1])
}
