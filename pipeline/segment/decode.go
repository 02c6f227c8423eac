package segment

import (
	"math"

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

// Decoder finds the most probable path of a hidden semi-Markov model with the
// four states of the heart cycle in their fixed order.
//
// # Model
//
// A path q is a sequence of runs, each of the state that follows the one
// before. With log-likelihoods ℓ(t, j) of the frames and laws p_j of the
// sojourns, its score is
//
//	log P(q) = first + Σ log p_j(d) [runs between] + last + Σ_t ℓ(t, q(t)).
//
// A recording starts and ends somewhere in a cycle, so the first run may have
// begun before it and the last may go on after it. In a heart that has been
// beating for long, the probability of meeting state j with k frames still to
// come is P(D_j ≥ k)/μ, μ the expected cycle length (the equilibrium of the
// renewal process); a last run of k frames has the probability P(D_j ≥ k) to
// have lasted so long. A recording within a single sojourn has
// E[(D_j − T + 1)⁺]/μ. These are the sums over all unseen beginnings and ends,
// so that the probabilities of all paths of T frames add up to one, for any
// laws: scores of different laws can be compared, see Likelihood.
//
// Letting the states at the edges reach beyond the recording follows Springer,
// Tarassenko and Clifford 2016 (doi 10.1109/TBME.2015.2475278), who take the
// best unseen length instead of the sum; treating the last sojourn as censored
// is that of Guédon 2003 (J Comput Graph Stat 12:604,
// doi 10.1198/1061860032030).
//
// # Algorithm
//
// Explicit-duration Viterbi decoding (Rabiner 1989, Proc IEEE 77:257,
// doi 10.1109/5.18626). With B_j(t) the best score of a path whose run in j
// ends before frame t, L_j the cumulative sum of ℓ and i the state before j,
//
//	B_j(t) = L_j(t) + max( first_j(t), max_d B_i(t−d) − L_j(t−d) + log p_j(d) ),
//
// in O(frames × Σ_j longest sojourn of j). Ties go to the shorter sojourn.
//
// A Decoder owns its tables: Load the likelihoods of a recording once, then
// call Decode or Likelihood for each set of laws. After a warm-up nothing is allocated.
type Decoder struct {
	frames int
	cum    [4][]float64 // cum[j][t]: Σ of ℓ(·, j) over the frames before t
	enter  [4][]float64 // best score of a path that enters j at t, less cum[j][t]
	length [4][]int32   // sojourn of the best run in j that ends before t
	last   int          // state of the last run of the best path
	tail   int          // its length

	stale       bool         // linear is not yet of the frames loaded
	linear      scaledFrames // the frames as likelihoods
	quartet     quartet      // of Likelihoods, and what follows
	pass        forward
	likelihoods []float64
}

// Load takes in the log-likelihoods of frames: ℓ(t, j) at index 4t + j, j in
// the order of pcg.Cycle. Values below −700 are raised to it; NaN and +Inf
// break the contract and panic.
func (d *Decoder) Load(logLikelihood []float64) {
	if len(logLikelihood)%4 != 0 || len(logLikelihood) == 0 {
		panic("segment: log-likelihoods are not rows of four")
	}
	d.frames = len(logLikelihood) / 4
	d.stale = true
	for j := range d.cum {
		d.cum[j] = grow(d.cum[j], d.frames+1)
		d.enter[j] = grow(d.enter[j], d.frames+1)
		d.length[j] = grow(d.length[j], d.frames+1)
		sum := 0.0
		for t := range d.frames {
			d.cum[j][t] = sum
			v := logLikelihood[4*t+j]
			if math.IsNaN(v) || math.IsInf(v, 1) {
				panic("segment: log-likelihood is not a number")
			}
			sum += math.Max(v, leastLogLikelihood)
		}
		d.cum[j][d.frames] = sum
	}
}

func grow[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// Frames returns the number of frames loaded.
func (d *Decoder) Frames() int { return d.frames }

// Decode finds the best path under the given laws and returns its score, the
// joint log-probability of path and frames. Runs gives the path.
func (d *Decoder) Decode(laws *Laws) float64 {
	logCycle := math.Log(laws.cycle())
	d.forward(laws, logCycle)
	return d.finish(laws, logCycle)
}

// forward fills the tables for all runs that end within the recording.
func (d *Decoder) forward(laws *Laws, logCycle float64) {
	for j := range d.enter {
		d.enter[j][0] = math.Inf(-1) // the first run is treated apart
	}
	for t := 1; t < d.frames; t++ {
		for j := range laws {
			law := &laws[j]
			best, length := d.bestRun(law, j, t)
			if first := law.LogTail(t) - logCycle; first > best {
				best, length = first, t
			}
			next := (j + 1) % 4
			d.enter[next][t] = best + d.cum[j][t] - d.cum[next][t]
			d.length[j][t] = int32(length)
		}
	}
}

// bestRun returns the best way to end a whole run in state j before frame t,
// less cum[j][t], and the length of the run.
func (d *Decoder) bestRun(law *Law, j, t int) (score float64, length int) {
	score = math.Inf(-1)
	most := min(law.Max(), t-1)
	if most < law.min {
		return score, 0
	}
	logP := law.logP[:most-law.min+1]
	enter := d.enter[j][t-most : t-law.min+1]
	enter = enter[:len(logP)]
	for k, p := range logP {
		if v := enter[len(enter)-1-k] + p; v > score {
			score, length = v, law.min+k
		}
	}
	return score, length
}

// finish chooses the last run, which may go on after the recording.
func (d *Decoder) finish(laws *Laws, logCycle float64) float64 {
	best := math.Inf(-1)
	T := d.frames
	for j := range laws {
		law := &laws[j]
		total := d.cum[j][T]
		for k := 1; k <= min(law.Max(), T-1); k++ {
			if v := d.enter[j][T-k] + law.LogTail(k) + total; v > best {
				best, d.last, d.tail = v, j, k
			}
		}
		if T <= law.Max() {
			if v := math.Log(law.span(T)) - logCycle + total; v > best {
				best, d.last, d.tail = v, j, T
			}
		}
	}
	return best
}

// Runs appends the runs of the best path of the last Decode to dst, in the
// order of time. It panics before a Decode.
func (d *Decoder) Runs(dst []Run) []Run {
	from := len(dst)
	j, end, length := d.last, d.frames, d.tail
	for {
		dst = append(dst, Run{State: pcg.Cycle[j], Start: end - length, End: end})
		end -= length
		if end == 0 {
			break
		}
		j = (j + 3) % 4
		length = int(d.length[j][end])
	}
	for a, b := from, len(dst)-1; a < b; a, b = a+1, b-1 {
		dst[a], dst[b] = dst[b], dst[a]
	}
	return dst
}

// Score returns the joint log-probability of the loaded frames and the given
// path under the given laws; −Inf where a run is longer or shorter than its
// law allows.
func (d *Decoder) Score(runs []Run, laws *Laws) float64 {
	score := -math.Log(laws.cycle())
	for i, r := range runs {
		j := int(r.State - pcg.S1)
		law := &laws[j]
		k := r.End - r.Start
		score += d.cum[j][r.End] - d.cum[j][r.Start]
		first, last := i == 0, i == len(runs)-1
		switch {
		case first && last:
			score += math.Log(law.span(k))
		case first || last:
			score += law.LogTail(k)
		default:
			score += law.LogP(k)
		}
	}
	return score
}

// Emission returns the log-likelihood of the loaded frames along a path alone,
// without the sojourns. With exchanged, S1 and S2 are taken for each other
// along the path, and so are systole and diastole.
func (d *Decoder) Emission(runs []Run, exchanged bool) float64 {
	sum := 0.0
	for _, r := range runs {
		s := r.State
		if exchanged {
			s = s.Exchanged()
		}
		j := s - pcg.S1
		sum += d.cum[j][r.End] - d.cum[j][r.Start]
	}
	return sum
}
