package segment

import (
	"math"

	"phonocycle/pipeline/simd"
)

// paths says what forward makes of all paths.
type paths bool

const (
	sumOfPaths paths = false // the probability of the frames: the sum over paths
	bestPath   paths = true  // the probability of the best path with the frames
)

// forward is the forward recursion of the model of Decoder (Rabiner 1989, Proc
// IEEE 77:257, doi 10.1109/5.18626), for a quartet of hypotheses: with
// b_j(t) = exp ℓ(t, j) and i the state before j,
//
//	α_j(t) = (1/μ)·P(D_j ≥ t)·Π_{u<t} b_j(u) + Σ_d α_i(t−d)·p_j(d)·Π_{t−d≤u<t} b_j(u)
//
// is the probability of the frames before t and of a run in j that ends there.
// Where the best path is asked for, the greatest term takes the place of each sum.
// It takes O(frames × Σ_j longest sojourn of j).
//
// With G_j(t) the product of b_j from a fixed frame on, the sum is G_j(t) times
// the inner product of p_j with e_j(u) = α_i(u)/G_j(u). That frame is the start of
// the block of scaledFrames, and what lies before it is carried along from block
// to block; at each a power of two, which rounds nothing, brings the values near
// one. So the recursion can stop after any block and go on later: the race of
// several hypotheses, see rhythmSearch, does not run losers to the end.
//
// The first term, too, is such an inner product: P(D ≥ t) is the sum of p(d) over
// d ≥ t, so that e_j = 1/μ in all frames before the first gives it. Only where the
// best path is asked for must it be told apart, as it stands for all unseen
// beginnings together.
type forward struct {
	frames *scaledFrames
	laws   *quartet
	of     paths
	step   int // to the next state: 1, and 3 backwards in time

	block    int // next to be done
	scale    [simd.Width]float64
	first    [4][simd.Width]float64 // probability of the first run, but for its tail; of the best path
	entered  [4][]float64           // e_j: as many frames before the block as the longest sojourn has, then the block
	finished bool
	score    [simd.Width]float64 // once finished: the logarithm of the sum, or of the best

	bound   [simd.Width]float64 // no more than this will the score be
	pending [simd.Width]float64 // logarithm of what has passed since the last bound
	passed  int                 // frames since then
}

// start begins the recursion anew, forwards in time.
func (f *forward) start(frames *scaledFrames, laws *quartet, of paths) { f.begin(frames, laws, of, 1) }

// begin begins the recursion anew, in the direction of time in which the next state
// is so many steps on.
func (f *forward) begin(frames *scaledFrames, laws *quartet, of paths, step int) {
	f.frames, f.laws, f.of, f.step = frames, laws, of, step
	f.block, f.scale, f.finished, f.passed = 0, [simd.Width]float64{}, false, 0
	for l := range simd.Width {
		f.bound[l], f.pending[l] = math.Inf(1), math.Inf(-1)
	}
	for j := range f.entered {
		longest := laws.sojourns[j].max
		f.entered[j] = grow(f.entered[j], simd.Width*(longest+blockFrames))
		past := f.entered[j][:simd.Width*longest]
		if of == bestPath {
			clear(past)
			f.first[j] = laws.first
			continue
		}
		f.first[j] = [simd.Width]float64{}
		for ; len(past) > 0; past = past[simd.Width:] {
			copy(past, laws.first[:])
		}
	}
}

// advance does one block and, after the last, finishes. With a future, it lowers
// the bounds: every path crosses from one state to the next within the longest
// sojourn, so that the sum over all crossings of a stretch so long, of the
// probability before times the most that can come after, is no less than the sum
// over all paths.
func (f *forward) advance(ahead *future) {
	block := f.block
	crossings := f.pass(ahead, nil)
	if ahead != nil {
		f.lower(crossings, ahead.scale[block][ahead.group], f.frames.starts[block+1]-f.frames.starts[block])
	}
	if f.block == f.frames.blocks() {
		f.finish()
	}
}

// pass does one block. It returns the sum over its frames and states of what
// crosses from one into the next times the most that is ahead. Where there is a
// trail, what leaves a state at frame t, of n, is kept there at place n − t: going
// backwards in time, a run that ends at t has begun at n − t.
func (f *forward) pass(ahead *future, trail *[4][]float64) (crossing [simd.Width]float64) {
	f.carry()
	from, to := f.frames.starts[f.block], f.frames.starts[f.block+1]
	f.block++
	var ring [4]simd.Renewing
	for j := range ring {
		next := (j + f.step) & 3
		ring[j] = simd.Renewing{
			Sojourn: f.laws.sojourns[j].falling,
			Entered: f.entered[j],
			Gain:    f.frames.product[j][from:to],
			Left:    f.entered[next][simd.Width*f.laws.sojourns[next].max:],
			Share:   f.frames.inverse[next][from:to],
		}
		if ahead != nil {
			ring[j].Weight = ahead.most[next][simd.Width*from+ahead.group:]
		}
		if trail != nil {
			ring[j].Trail = trail[j][:simd.Width*(f.frames.frames()-from+1)]
		}
	}
	if f.of == bestPath {
		return f.best(&ring, from, to)
	}
	return simd.Renew(&ring, to-from)
}

// best does for the best path what simd.Renew does for the sum.
func (f *forward) best(ring *[4]simd.Renewing, from, to int) (crossing [simd.Width]float64) {
	for t := range to - from {
		for j := range ring {
			s := &ring[j]
			for l, v := range f.bestRun(j, from+t, t) {
				v *= s.Gain[t]
				s.Left[simd.Width*t+l] = v * s.Share[t]
				if s.Weight != nil {
					crossing[l] += v * s.Weight[simd.Width*t]
				}
				if s.Trail != nil {
					s.Trail[len(s.Trail)-simd.Width*(t+1)+l] = v
				}
			}
		}
	}
	return crossing
}

// bestRun returns the greatest of the runs of j that end at frame t, which is that
// of the block at the given place, over G_j.
func (f *forward) bestRun(j, t, at int) [simd.Width]float64 {
	laws := &f.laws.sojourns[j]
	m := greatestProducts(laws.falling, f.entered[j][simd.Width*at:])
	if t > 0 && t <= laws.max {
		tail := laws.tail[simd.Width*(t-1):]
		for l, first := range f.first[j] {
			m[l] = max(m[l], first*tail[l])
		}
	}
	return m
}

// carry moves what lies before the block to its place, brings it to the start of
// the block and its peak near one.
func (f *forward) carry() {
	if f.block == 0 {
		return
	}
	past := simd.Width * (f.frames.starts[f.block] - f.frames.starts[f.block-1])
	level := f.level(past)
	for j, e := range f.entered {
		factor := f.frames.factor[j][f.block-1]
		l0, l1, l2, l3 := factor*level[0], factor*level[1], factor*level[2], factor*level[3]
		from := e[past:][:simd.Width*f.laws.sojourns[j].max]
		e := e[:len(from)]
		for len(from) >= simd.Width && len(e) >= simd.Width {
			e[0], e[1], e[2], e[3] = from[0]*l0, from[1]*l1, from[2]*l2, from[3]*l3
			from, e = from[simd.Width:], e[simd.Width:]
		}
		for l := range simd.Width {
			f.first[j][l] *= factor * level[l]
		}
	}
}

// level returns the powers of two that bring near one what will lie before the
// block, and takes them into account.
func (f *forward) level(past int) (level [simd.Width]float64) {
	var peak [simd.Width]float64
	for j, e := range f.entered {
		factor := f.frames.factor[j][f.block-1]
		longest := f.laws.sojourns[j].max
		for l, v := range simd.Peaks(e[past:][:simd.Width*longest]) {
			peak[l] = max(peak[l], v*factor)
			if f.frames.starts[f.block] <= longest {
				peak[l] = max(peak[l], f.first[j][l]*factor)
			}
		}
	}
	for l, v := range peak {
		level[l] = 1
		if v > 0 {
			_, exponent := math.Frexp(v)
			level[l] = math.Ldexp(1, -exponent)
			f.scale[l] += float64(exponent) * math.Ln2
		}
	}
	return level
}

// finish adds up the last runs, which may go on after the recording.
func (f *forward) finish() {
	f.carry()
	for l := range simd.Width {
		total := 0.0
		for j := range f.laws.sojourns {
			last := f.last(j, l)
			if f.of == bestPath {
				total = max(total, last)
			} else {
				total += last
			}
		}
		f.score[l] = math.Log(total) + f.scale[l] + f.frames.offset
	}
	f.finished, f.bound = true, f.score
}

// last returns the sum over the runs of j that are under way at the end, or the
// greatest of them, for one hypothesis.
func (f *forward) last(j, l int) float64 {
	laws, frames := &f.laws.sojourns[j], f.frames.frames()
	sum, most, span := 0.0, 0.0, 0.0
	for k := 1; k <= laws.max; k++ {
		tail := laws.tail[simd.Width*(k-1)+l]
		v := f.entered[j][simd.Width*(laws.max-k)+l] * tail
		sum += v
		if k < frames {
			most = max(most, v)
		} else {
			span += tail
		}
	}
	if f.of == bestPath {
		return max(most, f.first[j][l]*span)
	}
	return sum
}

// lower takes in the crossings of a block of so many frames, and the logarithm of
// the scale of what they were multiplied by.
func (f *forward) lower(crossings [simd.Width]float64, scale float64, frames int) {
	f.passed += frames
	enough := f.passed > f.laws.longest()
	for l, c := range crossings {
		f.pending[l] = logSum(f.pending[l], math.Log(c)+f.scale[l]+scale)
		if enough {
			f.bound[l] = min(f.bound[l], f.pending[l]+f.frames.offset)
			f.pending[l] = math.Inf(-1)
		}
	}
	if enough {
		f.passed = 0
	}
}

// logSum returns ln(e^a + e^b).
func logSum(a, b float64) float64 {
	high, low := max(a, b), min(a, b)
	if math.IsInf(low, -1) {
		return high
	}
	return high + math.Log1p(math.Exp(low-high))
}

// greatestProducts returns the greatest product a[i]·b[i] of each hypothesis, of as
// many values as a has. They are not negative, so that their bits are in their
// order; comparing these spares a branch.
func greatestProducts(a, b []float64) [simd.Width]float64 {
	var b0, b1, b2, b3 uint64
	for len(a) >= simd.Width && len(b) >= simd.Width {
		b0 = max(b0, math.Float64bits(a[0]*b[0]))
		b1 = max(b1, math.Float64bits(a[1]*b[1]))
		b2 = max(b2, math.Float64bits(a[2]*b[2]))
		b3 = max(b3, math.Float64bits(a[3]*b[3]))
		a, b = a[simd.Width:], b[simd.Width:]
	}
	return [simd.Width]float64{math.Float64frombits(b0), math.Float64frombits(b1), math.Float64frombits(b2), math.Float64frombits(b3)}
}
