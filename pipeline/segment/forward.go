package segment

import "math"

// paths says what forward makes of all paths.
type paths bool

const (
	sumOfPaths paths = false // the probability of the frames: the sum over paths
	bestPath   paths = true  // the probability of the best path with the frames
)

// forward is the forward recursion of the model of Decoder (Rabiner 1989, Proc
// IEEE 77:257, doi 10.1109/5.18626): with b_j(t) = exp ℓ(t, j) and i the state
// before j,
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
type forward struct {
	frames *scaledFrames
	laws   *Laws
	of     paths
	step   int // to the next state: 1, and 3 backwards in time

	block    int // next to be done
	scale    float64
	first    [4]float64   // probability of the first run, but for its tail
	entered  [4][]float64 // e_j: reach frames before the block, then the block
	finished bool
	score    float64 // once finished: the logarithm of the sum, or of the best

	bound   float64 // no more than this will the score be
	pending float64 // logarithm of what has passed since the last bound
	passed  int     // frames since then
}

// start begins the recursion anew, forwards in time.
func (f *forward) start(frames *scaledFrames, laws *Laws, of paths) {
	f.begin(frames, laws, of, 1, 1/laws.cycle())
}

func (f *forward) begin(frames *scaledFrames, laws *Laws, of paths, step int, first float64) {
	f.frames, f.laws, f.of, f.step = frames, laws, of, step
	f.block, f.scale, f.finished = 0, 0, false
	f.bound, f.pending, f.passed = math.Inf(1), math.Inf(-1), 0
	for j := range f.entered {
		f.first[j] = first
		f.entered[j] = grow(f.entered[j], laws[j].reach()+blockFrames)
		clear(f.entered[j])
	}
}

// advance does one block and, after the last, finishes.
func (f *forward) advance(future *futures) {
	f.pass(future)
	if f.block == f.frames.blocks() {
		f.finish()
	}
}

// pass does one block. With a future it lowers the bound: every path crosses
// from one state to the next within the longest sojourn, so that the sum over all
// crossings of a stretch so long, of the probability before times the most that
// can come after, is no less than the sum over all paths.
func (f *forward) pass(future *futures) {
	from, to := f.frames.starts[f.block], f.frames.starts[f.block+1]
	f.carry()
	crossing := 0.0
	for t := from; t < to; t++ {
		at := t - from
		for j := range 4 {
			law := &f.laws[j]
			sum := f.arrive(j, at)
			if t <= len(law.tail) && t > 0 {
				sum = f.either(sum, f.first[j]*law.tail[t-1])
			}
			sum *= f.frames.product[j][t]
			next := (j + f.step) & 3
			f.entered[next][f.laws[next].reach()+at] = sum * f.frames.inverse[next][t]
			if future != nil {
				crossing += sum * future.most[next][t]
			}
		}
	}
	if future != nil {
		f.lower(math.Log(crossing)+f.scale+future.scale[f.block], to-from)
	}
	f.block++
}

// arrive returns the sum over the runs of j that end at the given frame of the
// block, over G_j.
func (f *forward) arrive(j, at int) float64 {
	falling := f.laws[j].falling
	e := f.entered[j][at : at+len(falling)]
	if f.of == bestPath {
		return greatestProduct(falling, e)
	}
	return product(falling, e)
}

func (f *forward) either(a, b float64) float64 {
	if f.of == bestPath {
		return max(a, b)
	}
	return a + b
}

// carry moves what lies before the block to its place, brings it to the start of
// the block and its peak near one.
func (f *forward) carry() {
	if f.block == 0 {
		return
	}
	past := f.frames.starts[f.block] - f.frames.starts[f.block-1]
	peak := 0.0
	for j, e := range f.entered {
		factor := f.frames.factor[j][f.block-1]
		reach := f.laws[j].reach()
		for i, v := range e[past : past+reach] {
			v *= factor
			e[i] = v
			peak = max(peak, v)
		}
		f.first[j] *= factor
		if f.frames.starts[f.block] <= f.laws[j].Max() {
			peak = max(peak, f.first[j])
		}
	}
	if peak == 0 {
		return
	}
	_, exponent := math.Frexp(peak)
	level := math.Ldexp(1, -exponent)
	f.scale += float64(exponent) * math.Ln2
	for j, e := range f.entered {
		f.first[j] *= level
		for i := range e[:f.laws[j].reach()] {
			e[i] *= level
		}
	}
}

// finish adds up the last runs, which may go on after the recording.
func (f *forward) finish() {
	f.carry()
	total := 0.0
	frames := f.frames.frames()
	for j := range f.laws {
		law := &f.laws[j]
		reach := law.reach()
		for k := 1; k <= min(len(law.tail), reach, frames-1); k++ {
			total = f.either(total, f.entered[j][reach-k]*law.tail[k-1])
		}
		if frames <= law.Max() {
			total = f.either(total, f.first[j]*law.span(frames))
		}
	}
	f.finished = true
	f.score = math.Log(total) + f.scale + f.frames.offset
	f.bound = f.score
}

// lower takes in the logarithm of the crossings of a block.
func (f *forward) lower(crossings float64, frames int) {
	f.pending = logSum(f.pending, crossings)
	f.passed += frames
	longest := 0
	for j := range f.laws {
		longest = max(longest, f.laws[j].Max())
	}
	if f.passed > longest {
		f.bound = min(f.bound, f.pending+f.frames.offset)
		f.pending, f.passed = math.Inf(-1), 0
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

// product returns Σ a[i]·b[i] of as many values as a has, a multiple of four, in
// four sums that keep the processor busy.
func product(a, b []float64) float64 {
	var s0, s1, s2, s3 float64
	for len(a) >= 4 && len(b) >= 4 {
		s0 += float64(a[0] * b[0])
		s1 += float64(a[1] * b[1])
		s2 += float64(a[2] * b[2])
		s3 += float64(a[3] * b[3])
		a, b = a[4:], b[4:]
	}
	return (s0 + s1) + (s2 + s3)
}

// greatestProduct returns the greatest a[i]·b[i] of values that are not negative,
// whose bits are in the order of their values; comparing these spares a branch.
func greatestProduct(a, b []float64) float64 {
	var m0, m1 uint64
	for len(a) >= 4 && len(b) >= 4 {
		m0 = max(m0, math.Float64bits(a[0]*b[0]), math.Float64bits(a[2]*b[2]))
		m1 = max(m1, math.Float64bits(a[1]*b[1]), math.Float64bits(a[3]*b[3]))
		a, b = a[4:], b[4:]
	}
	return math.Float64frombits(max(m0, m1))
}

// futures bounds what can come after a crossing, whatever the hypothesis.
type futures struct {
	laws     Laws // upper bounds of those of the hypotheses
	reversed scaledFrames
	pass     forward
	most     [4][]float64 // of frames t and later if state j is entered at t, scaled
	scale    []float64    // of most in each block
}

// set computes the bounds for the given frames and hypotheses. It is the forward
// recursion from the end of the recording to its start.
func (f *futures) set(frames *scaledFrames, hypotheses []*Laws, of paths) {
	var laws [64]*Law
	for j := range f.laws {
		of := laws[:0]
		for _, h := range hypotheses {
			of = append(of, &h[j])
		}
		f.laws[j].envelop(of)
	}
	f.reversed.reverse(frames)
	n, blocks := frames.frames(), frames.blocks()
	for j := range f.most {
		f.most[j] = grow(f.most[j], n)
	}
	f.scale = grow(f.scale, blocks)
	p := &f.pass
	p.begin(&f.reversed, &f.laws, of, 3, 1)
	for k := range blocks {
		p.pass(nil)
		from, to := f.reversed.starts[k], f.reversed.starts[k+1]
		block := blocks - 1 - k
		f.scale[block] = p.scale
		// What crosses from j at reversed time t enters j at time n − t; a
		// block of the one has the frame after that of the other.
		for t := max(from, 1); t < to; t++ {
			for j := range f.most {
				before := (j + 3) & 3
				f.most[j][n-t] = p.entered[before][p.laws[before].reach()+t-from] * f.reversed.product[before][t]
			}
		}
		if k > 0 {
			shift := math.Exp(f.scale[block] - f.scale[block+1])
			for j := range f.most {
				f.most[j][n-from] *= shift
			}
		}
	}
}
