package hsmm

import (
	"math"

	"phonocycle/pipeline/simd"
)

// forward is the forward recursion for a batch of hypotheses. With
// b_j(t) = exp ℓ(t, j) and i the state before j,
//
//	α_j(t) = (1/μ)·P(D_j ≥ t)·Π_{u<t} b_j(u) + Σ_d α_i(t−d)·p_j(d)·Π_{t−d≤u<t} b_j(u)
//
// is the probability of the frames before t and of a run in j that ends there.
// It takes O(frames × Σ_j longest sojourn of j).
//
// With G_j(t) the product of b_j from the start of a block of scaledFrames, the
// sum is G_j(t) times the inner product of p_j with e_j(u) = α_i(u)/G_j(u). What
// lies before the block is carried from block to block; at each, a power of two,
// which rounds nothing, brings the values near one. The first term is such an
// inner product, too: P(D ≥ t) is the sum of p(d) over d ≥ t, so that e_j = 1/μ
// in all frames before the first gives it.
type forward struct {
	frames  *scaledFrames
	batch   *batch
	scale   [batchSize]float64 // logarithm of what the values have been divided by
	entered [4][]float64       // e_j: as many frames before the block as the longest sojourn has, then the block
}

// run returns, for each hypothesis, the logarithm of the probability of the
// frames; −Inf where it is below the range of a float64.
func (f *forward) run(frames *scaledFrames, b *batch) [batchSize]float64 {
	f.frames, f.batch, f.scale = frames, b, [batchSize]float64{}
	for j := range f.entered {
		longest := b.states[j].max
		f.entered[j] = grow(f.entered[j], batchSize*(longest+blockFrames))
		for past := f.entered[j][:batchSize*longest]; len(past) > 0; past = past[batchSize:] {
			copy(past, b.first[:])
		}
	}
	for block := range frames.blocks() {
		if block > 0 {
			f.carry(block)
		}
		f.advance(block)
	}
	f.carry(frames.blocks())
	return f.total()
}

// advance does one block.
func (f *forward) advance(block int) {
	from, to := f.frames.starts[block], f.frames.starts[block+1]
	var states [4]forwardState
	for j := range states {
		next := (j + 1) % 4
		states[j] = forwardState{
			sojourn: f.batch.states[j].falling,
			entered: f.entered[j],
			gain:    f.frames.product[j][from:to],
			left:    f.entered[next][batchSize*f.batch.states[next].max:],
			share:   f.frames.inverse[next][from:to],
		}
	}
	forwardStep(&states, to-from)
}

// carry moves what lies before the block to its place, brings it to the start of
// the block and its largest value near one.
func (f *forward) carry(block int) {
	past := batchSize * (f.frames.starts[block] - f.frames.starts[block-1])
	level := f.level(block, past)
	for j, e := range f.entered {
		factor := f.frames.factor[j][block-1]
		l0, l1, l2, l3 := factor*level[0], factor*level[1], factor*level[2], factor*level[3]
		from := e[past:][:batchSize*f.batch.states[j].max]
		e := e[:len(from)]
		for len(from) >= batchSize && len(e) >= batchSize {
			e[0], e[1], e[2], e[3] = from[0]*l0, from[1]*l1, from[2]*l2, from[3]*l3
			from, e = from[batchSize:], e[batchSize:]
		}
	}
}

// level returns the powers of two that bring near one what will lie before the
// block, and adds their logarithms to the scale.
func (f *forward) level(block, past int) (level [batchSize]float64) {
	var largest [batchSize]float64
	for j, e := range f.entered {
		factor := f.frames.factor[j][block-1]
		for l, v := range simd.MaxAbsInterleaved(e[past:][:batchSize*f.batch.states[j].max]) {
			largest[l] = max(largest[l], v*factor)
		}
	}
	for l, v := range largest {
		level[l] = 1
		if v > 0 {
			_, exponent := math.Frexp(v)
			level[l] = math.Ldexp(1, -exponent)
			f.scale[l] += float64(exponent) * math.Ln2
		}
	}
	return level
}

// total adds up the last runs, which may go on after the recording.
func (f *forward) total() (logs [batchSize]float64) {
	for l := range logs {
		total := 0.0
		for j := range f.batch.states {
			s, sum := &f.batch.states[j], 0.0
			for k := 1; k <= s.max; k++ {
				sum += f.entered[j][batchSize*(s.max-k)+l] * s.tail[batchSize*(k-1)+l]
			}
			total += sum
		}
		logs[l] = math.Log(total) + f.scale[l] + f.frames.offset
	}
	return logs
}
