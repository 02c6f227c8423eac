package hsmm

import (
	"math"
	"slices"

	"phonocycle/pipeline/pcg"
)

// Run is a stretch of frames [Start, End) in one state.
type Run struct {
	State      pcg.State
	Start, End int
}

// leastLogLikelihood is what log-likelihoods are raised to: below it, in
// natural logarithms, exp would leave the range of a float64.
const leastLogLikelihood = -700

// Decoder decodes the model of the package comment. It owns its tables: Load the
// log-likelihoods of a recording once, then decode it under any number of
// hypotheses. After a warm-up nothing is allocated. It serves one goroutine.
type Decoder struct {
	frames    int
	sums      []float64     // Σ of ℓ(·, j) over the frames before t, at 4t + j
	tables    viterbiTables // the best paths that end in a whole run
	lastState int           // of the best path
	lastRun   int           // its length

	stale   bool         // scaled is not yet of the frames loaded
	scaled  scaledFrames // the frames as likelihoods
	batch   batch
	forward forward
	scores  []float64 // of Likelihoods and BestScores
}

// Load takes in the log-likelihoods of frames: ℓ(t, j) at index 4t + j, j in
// the order of pcg.Cycle. Values below −700 are raised to it; NaN and +Inf
// break the contract and panic.
func (d *Decoder) Load(logLikelihood []float64) {
	if len(logLikelihood)%4 != 0 || len(logLikelihood) == 0 {
		panic("hsmm: log-likelihoods are not rows of four")
	}
	d.frames = len(logLikelihood) / 4
	d.stale = true
	d.sums = grow(d.sums, 4*(d.frames+1))
	var sum [4]float64
	for t := range d.frames {
		copy(d.sums[4*t:], sum[:])
		for j, v := range logLikelihood[4*t : 4*t+4] {
			if math.IsNaN(v) || math.IsInf(v, 1) {
				panic("hsmm: log-likelihood is not a number")
			}
			if v < leastLogLikelihood {
				v = leastLogLikelihood
			}
			sum[j] += v
		}
	}
	copy(d.sums[4*d.frames:], sum[:])
}

// Frames returns the number of frames loaded.
func (d *Decoder) Frames() int { return d.frames }

// Likelihoods returns, for each hypothesis, the log-probability of the loaded
// frames, summed over all paths: the figure by which hypotheses should be
// compared, since the best path alone favours distributions that leave fewer
// paths to share the probability. It is −Inf where the probability is below the
// range of a float64, which takes stretches of frames that fit no state. Four
// hypotheses take little more time than one. The slice is valid until the next
// call.
func (d *Decoder) Likelihoods(hypotheses []*Sojourns) []float64 {
	if d.stale {
		d.scaled.set(d.sums, d.frames)
		d.stale = false
	}
	d.scores = d.scores[:0]
	for len(hypotheses) > 0 {
		n := min(batchSize, len(hypotheses))
		d.batch.set(hypotheses[:n])
		logs := d.forward.run(&d.scaled, &d.batch)
		d.scores = append(d.scores, logs[:n]...)
		hypotheses = hypotheses[n:]
	}
	return d.scores
}

// BestScores returns the score of Decode under each hypothesis. The slice is
// valid until the next call.
func (d *Decoder) BestScores(hypotheses []*Sojourns) []float64 {
	d.scores = d.scores[:0]
	for _, h := range hypotheses {
		d.scores = append(d.scores, d.Decode(h))
	}
	return d.scores
}

// Decode finds the best path under the given distributions and returns its
// score, the joint log-probability of path and frames. Runs gives the path.
//
// With B_j(t) the best score of a path whose run in j ends before frame t, L_j
// the cumulative sum of ℓ and i the state before j,
//
//	B_j(t) = L_j(t) + max( first_j(t), max_d B_i(t−d) − L_j(t−d) + log p_j(d) ),
//
// in O(frames × Σ_j longest sojourn of j). Ties go to the shorter sojourn.
func (d *Decoder) Decode(s *Sojourns) float64 {
	logCycle := math.Log(s.cycle())
	longest := d.prepare(s, logCycle)
	viterbiStep(&d.tables, d.frames)
	return d.finish(s, logCycle, longest)
}

// prepare sets the tables for the given distributions, of which it returns the
// longest sojourn.
func (d *Decoder) prepare(s *Sojourns, logCycle float64) (longest int) {
	v := &d.tables
	v.shortest = math.MaxInt
	for j := range s {
		v.shortest, longest = min(v.shortest, s[j].min), max(longest, s[j].max())
	}
	v.sojourn = grow(v.sojourn, 4*(longest-v.shortest+1))
	v.first = grow(v.first, 4*(longest+1))
	for j := range s {
		for n := v.shortest; n <= longest; n++ {
			v.sojourn[4*(n-v.shortest)+j] = s[j].logProbability(n)
		}
		v.first[j] = math.Inf(-1)
		for t := 1; t <= longest; t++ {
			v.first[4*t+j] = s[j].logSurvival(t) - logCycle
		}
	}
	v.level = d.sums
	v.entered = grow(v.entered, 4*(longest+d.frames))
	before := v.entered[:4*(longest+1)] // the first run is treated apart
	for i := range before {
		before[i] = math.Inf(-1)
	}
	return longest
}

// finish chooses the last run, which may go on after the recording.
func (d *Decoder) finish(s *Sojourns, logCycle float64, longest int) float64 {
	best := math.Inf(-1)
	T := d.frames
	for j := range s {
		total := d.sums[4*T+j]
		for k := 1; k <= min(s[j].max(), T-1); k++ {
			if v := d.tables.entered[4*(longest+T-k)+j] + s[j].logSurvival(k) + total; v > best {
				best, d.lastState, d.lastRun = v, j, k
			}
		}
		if T <= s[j].max() {
			if v := math.Log(s[j].excess(T)) - logCycle + total; v > best {
				best, d.lastState, d.lastRun = v, j, T
			}
		}
	}
	return best
}

// Runs appends the runs of the best path of the last Decode to dst, in the
// order of time. It panics before a Decode.
func (d *Decoder) Runs(dst []Run) []Run {
	from := len(dst)
	j, end, length := d.lastState, d.frames, d.lastRun
	for {
		dst = append(dst, Run{State: pcg.Cycle[j], Start: end - length, End: end})
		end -= length
		if end == 0 {
			break
		}
		j = (j + 3) % 4
		_, length = d.tables.run(j, end)
	}
	slices.Reverse(dst[from:])
	return dst
}
