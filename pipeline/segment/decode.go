package segment

import (
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/simd"
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
	cum    []float64       // Σ of ℓ(·, j) over the frames before t, at 4t + j
	best   simd.Succession // the best paths that end in a whole run
	last   int             // state of the last run of the best path
	tail   int             // its length

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
	d.cum = grow(d.cum, 4*(d.frames+1))
	var sum [4]float64
	for t := range d.frames {
		copy(d.cum[4*t:], sum[:])
		for j, v := range logLikelihood[4*t : 4*t+4] {
			if math.IsNaN(v) || math.IsInf(v, 1) {
				panic("segment: log-likelihood is not a number")
			}
			if v < leastLogLikelihood {
				v = leastLogLikelihood
			}
			sum[j] += v
		}
	}
	copy(d.cum[4*d.frames:], sum[:])
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
	longest := d.prepare(laws, logCycle)
	simd.Succeed(&d.best, d.frames)
	return d.finish(laws, logCycle, longest)
}

// prepare sets the tables of best for the given laws, of which it returns the
// longest sojourn.
func (d *Decoder) prepare(laws *Laws, logCycle float64) (longest int) {
	s := &d.best
	s.Shortest = math.MaxInt
	for j := range laws {
		s.Shortest, longest = min(s.Shortest, laws[j].Min()), max(longest, laws[j].Max())
	}
	s.Sojourn = grow(s.Sojourn, 4*(longest-s.Shortest+1))
	s.First = grow(s.First, 4*(longest+1))
	for j := range laws {
		for d := s.Shortest; d <= longest; d++ {
			s.Sojourn[4*(d-s.Shortest)+j] = laws[j].LogP(d)
		}
		s.First[j] = math.Inf(-1)
		for t := 1; t <= longest; t++ {
			s.First[4*t+j] = laws[j].LogTail(t) - logCycle
		}
	}
	s.Level = d.cum
	s.Length = grow(s.Length, 4*d.frames)
	s.Entered = grow(s.Entered, 4*(longest+d.frames))
	before := s.Entered[:4*(longest+1)] // the first run is treated apart
	for i := range before {
		before[i] = math.Inf(-1)
	}
	return longest
}

// finish chooses the last run, which may go on after the recording.
func (d *Decoder) finish(laws *Laws, logCycle float64, longest int) float64 {
	best := math.Inf(-1)
	T := d.frames
	for j := range laws {
		law := &laws[j]
		total := d.cum[4*T+j]
		for k := 1; k <= min(law.Max(), T-1); k++ {
			if v := d.best.Entered[4*(longest+T-k)+j] + law.LogTail(k) + total; v > best {
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
		length = int(d.best.Length[4*end+j])
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
		score += d.cum[4*r.End+j] - d.cum[4*r.Start+j]
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
		j := int(s - pcg.S1)
		sum += d.cum[4*r.End+j] - d.cum[4*r.Start+j]
	}
	return sum
}
