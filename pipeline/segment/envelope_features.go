package segment

import (
	"gonum.org/v1/gonum/floats"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// envelopes is the number of envelopes observed by logistic-hsmm.
const envelopes = 4

// width returns the number of features of a frame with the given number of
// neighbours on each side.
func width(context int) int { return envelopes * (2*context + 1) }

// featureFrames computes the features of a recording: the envelopes of each frame and
// of its neighbours, standardised, or as logarithms less their mean. Noise flattens an
// envelope; standardised, its ripple is as large as the sounds of a clean recording.
// With its spread kept, frames that stand out little say little.
type featureFrames struct {
	frontEnd   *frontEnd
	log        bool
	keepSpread bool // of the logarithms
	context    int
	columns    [envelopes][]float64
	extended   [envelopes][]float64 // with neighbours at both ends
	part       []float64            // of predict
}

func newFeatureFrames(log, keepSpread bool, context int) featureFrames {
	return featureFrames{frontEnd: newFrontEnd(), log: log, keepSpread: keepSpread, context: context}
}

// load measures a recording.
func (f *featureFrames) load(w *signal.Waveform) error {
	if err := f.frontEnd.load(w); err != nil {
		return err
	}
	f.columns[0] = f.frontEnd.homomorphicFrames(f.columns[0])
	f.columns[1] = signal.FrameMeans(f.columns[1], f.frontEnd.envelope(), hop)
	f.columns[2] = f.frontEnd.power.Frames(f.columns[2], f.frontEnd.clean)
	f.columns[3] = f.frontEnd.waveletFrames(f.columns[3])
	for _, c := range f.columns {
		switch {
		case f.log && f.keepSpread:
			takeLog(c)
			mean, _ := signal.MeanSD(c)
			floats.AddConst(-mean, c)
		case f.log:
			standardLog(c)
		default:
			signal.Standardise(c)
		}
	}
	f.extend()
	return nil
}

// extend lays out the envelopes with the neighbours of the first frame and of the
// last: at the ends of the recording the last frame stands in for those that there
// are none of.
func (f *featureFrames) extend() {
	n := f.frames()
	for k, c := range f.columns {
		e := grow(f.extended[k], n+2*f.context)
		copy(e[f.context:], c)
		for i := range f.context {
			e[i], e[len(e)-1-i] = c[0], c[n-1]
		}
		f.extended[k] = e
	}
}

func (f *featureFrames) frames() int { return len(f.columns[0]) }

// appendRow appends the features of frame t to dst: envelope by envelope, and in
// each from the earliest neighbour to the latest.
func (f *featureFrames) appendRow(dst []float64, t int) []float64 {
	for _, e := range f.extended {
		dst = append(dst, e[t:t+2*f.context+1]...)
	}
	return dst
}

// predict writes w₀ + Σ w_k x_k to dst for the features x of each frame.
func (f *featureFrames) predict(dst, weights []float64) {
	f.part = grow(f.part, len(dst))
	for t := range dst {
		dst[t] = weights[0]
	}
	weights = weights[1:]
	of := 2*f.context + 1
	for k, e := range f.extended {
		simd.Correlate(f.part, e, weights[k*of:(k+1)*of], 1)
		for t, v := range f.part {
			dst[t] += v
		}
	}
}
