package segment

import (
	"phonocycle/pipeline/lanes"
	"phonocycle/pipeline/signal"
)

// envelopes is the number of envelopes observed by logistic-hsmm.
const envelopes = 4

// width returns the number of features of a frame with the given number of
// neighbours on each side.
func width(context int) int { return envelopes * (2*context + 1) }

// featureFrames computes the features of a recording: the envelopes, standardised,
// of each frame and of its neighbours.
type featureFrames struct {
	frontEnd *frontEnd
	log      bool
	context  int
	columns  [envelopes][]float64
	rows     []float64
}

func newFeatureFrames(log bool, context int) featureFrames {
	return featureFrames{frontEnd: newFrontEnd(), log: log, context: context}
}

// load measures the recording x.
func (f *featureFrames) load(x []float64, fs float64) error {
	if err := f.frontEnd.load(x, fs); err != nil {
		return err
	}
	f.columns[0] = f.frontEnd.homomorphicFrames(f.columns[0])
	f.columns[1] = f.frontEnd.hilbertFrames(f.columns[1])
	f.columns[2] = f.frontEnd.powerFrames(f.columns[2])
	f.columns[3] = f.frontEnd.waveletFrames(f.columns[3])
	for _, c := range f.columns {
		if f.log {
			standardLog(c)
		} else {
			signal.Standardise(c)
		}
	}
	f.stack()
	return nil
}

// stack lays each frame and its neighbours side by side: envelope by envelope,
// and in each from the earliest neighbour to the latest. At the ends of the
// recording the last frame stands in for those that there are none of.
func (f *featureFrames) stack() {
	n, w := f.frames(), width(f.context)
	f.rows = grow(f.rows, w*n)
	for k, c := range f.columns {
		of := 2*f.context + 1
		for t := range n {
			row := f.rows[w*t+k*of:][:of]
			if first := t - f.context; first >= 0 && first+of <= n {
				copy(row, c[first:first+of])
				continue
			}
			for i := range row {
				row[i] = c[min(max(t-f.context+i, 0), n-1)]
			}
		}
	}
}

func (f *featureFrames) frames() int { return len(f.columns[0]) }

// column returns one envelope, row the features of one frame.
func (f *featureFrames) column(k int) []float64 { return f.columns[k] }
func (f *featureFrames) row(t int) []float64 {
	w := width(f.context)
	return f.rows[w*t : w*(t+1)]
}

// predict writes w₀ + Σ w_k x_k to dst for the features x of each frame.
func (f *featureFrames) predict(dst, weights []float64) {
	w := width(f.context)
	lanes.Decimate(dst, f.rows, weights[1:], w)
	for t := range dst {
		dst[t] += weights[0]
	}
}
