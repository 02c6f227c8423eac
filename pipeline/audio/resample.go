package audio

import (
	"fmt"
	"math"
	"slices"

	"phonocycle/pipeline/simd"
)

// Resampler brings signals of any rate from [MinRate] to [MaxRate] to one
// rate. The filter is described in the package comment. A Resampler keeps the
// tables of the last few source rates, so that a data set of one rate designs
// one filter, and serves one goroutine.
type Resampler struct {
	rate  int
	plans []*plan // the last used first
}

// maxPlans bounds what a Resampler keeps: four tables of at most 2.3 MB. Data
// sets hold one or two rates.
const maxPlans = 4

// NewResampler returns a Resampler to the given rate in hertz. It panics
// unless the rate is positive.
func NewResampler(rate int) *Resampler {
	if rate <= 0 {
		panic(fmt.Sprintf("audio: resampling to %d Hz", rate))
	}
	return &Resampler{rate: rate}
}

// Resample returns x, sampled at from hertz, at the rate of r. Sample k of the
// result stands for the time k/rate, and there are ⌈len(x)·rate/from⌉ of them,
// one for each such time before the end of x. Beyond its ends x is taken as
// zero, so that the first and last 32 samples of the slower rate, half the
// length of the filter, feel the edge. A signal at the wanted rate passes the
// same filter, so that equal recordings at two rates give equal results. Between
// samples a signal is higher than at them: the result of a clipped recording can
// exceed full scale, and is not clipped again.
//
// The result is written to dst, which may be nil, if it has the capacity, and
// dst must not overlap x. Nothing else is allocated once the source rate has
// been met. Resample panics if from is not positive; a Clip's rate is.
func (r *Resampler) Resample(dst, x []float64, from int) []float64 {
	if from <= 0 {
		panic(fmt.Sprintf("audio: resampling from %d Hz", from))
	}
	n := outputLength(len(x), from, r.rate)
	if cap(dst) < n {
		dst = make([]float64, n)
	}
	dst = dst[:n]
	r.plan(from).run(dst, x)
	return dst
}

// outputLength returns ⌈n·to/from⌉.
func outputLength(n, from, to int) int {
	return (n*to + from - 1) / from
}

// plan returns the plan for a source rate and moves it to the front.
func (r *Resampler) plan(from int) *plan {
	at := slices.IndexFunc(r.plans, func(p *plan) bool { return p.from == from })
	if at < 0 {
		p := newPlan(from, r.rate)
		r.plans = slices.Insert(r.plans[:min(len(r.plans), maxPlans-1)], 0, p)
		return p
	}
	p := r.plans[at]
	copy(r.plans[1:at+1], r.plans[:at])
	r.plans[0] = p
	return p
}

// tableRate is the number of rows a second of a table of h, divided by the
// lower of the two rates, at which linear interpolation between rows errs by
// at most (2π · 0.5 / tableRate)² / 8 = 7.4e−8 of the signal, or −142 dB: h
// holds no frequency above half the lower rate, and the error of linear
// interpolation of a sinusoid of frequency f in steps d is (2πfd)²/8.
const tableRate = 4096

// plan is the table of h for one pair of rates.
//
// Output k lies at input position k·M/L, which is the input sample
// n = ⌊k·M/L⌋ and the phase (k·M mod L)/L behind it. Row p of the table holds
// h for the phase p/phases: rows[p][i] = h(p/phases + half − 1 − i), the
// weight of input sample n − half + 1 + i.
type plan struct {
	from         int
	up, down     int // L and M
	half         int // a row holds 2·half values
	phases       int // L, or less where L rows are too many
	coefficients []float64
	only         []float64 // where up is 1, the first row, for simd.Decimate
}

func newPlan(from, to int) *plan {
	p := layOut(from, to)
	p.coefficients = make([]float64, p.size())
	k := newKernel(from, to)
	for ph := range p.phases + 1 {
		row := p.row(ph)
		phase := float64(ph) / float64(p.phases)
		sum := 0.0
		for i := range row {
			row[i] = k.at(phase + float64(p.half-1-i))
			sum += row[i]
		}
		// The weights of a row sum to 1 within the ripple. Made exact, a
		// constant offset of the microphone stays constant and leaves no
		// tone at the rate at which phases recur.
		for i := range row {
			row[i] /= sum
		}
	}
	if p.up == 1 {
		p.only = simd.PadTaps(p.row(0))
	}
	return p
}

// layOut returns the plan for a pair of rates, but for its coefficients.
func layOut(from, to int) *plan {
	g := gcd(from, to)
	p := &plan{
		from: from,
		up:   to / g,
		down: from / g,
		half: int(math.Ceil(newKernel(from, to).half)),
	}
	p.phases = min(p.up, (tableRate*min(from, to)+from-1)/from)
	return p
}

// size returns the number of coefficients: a row for each phase, and one
// beyond the last to interpolate towards.
func (p *plan) size() int { return (p.phases + 1) * 2 * p.half }

func (p *plan) row(phase int) []float64 {
	return p.coefficients[phase*2*p.half : (phase+1)*2*p.half]
}

// run sets dst to x at the new rate. Positions are integers throughout, so
// that they are exact at the end of a long recording too.
func (p *plan) run(dst, x []float64) {
	from := 0
	if p.up == 1 {
		from = p.decimate(dst, x)
	}
	for k := from; k < len(dst); k++ {
		pos := k * p.down
		n := pos / p.up
		at := pos % p.up * p.phases
		row, rest := at/p.up, at%p.up
		y := p.convolve(x, n, row)
		if rest != 0 {
			f := float64(rest) / float64(p.up)
			y += float64(f * (p.convolve(x, n, row+1) - y))
		}
		dst[k] = y
	}
}

// decimate sets dst as run does where all outputs have the one row of weights, as
// from 4 to 1 kHz, up to the first near the end of x whose weights reach beyond
// it, and returns the number of that.
func (p *plan) decimate(dst, x []float64) int {
	before := p.half - 1 // samples before the one that an output lies at
	first := min((before+p.down-1)/p.down, len(dst))
	for k := range first {
		dst[k] = p.convolve(x, k*p.down, 0)
	}
	from := first*p.down - before
	if from+len(p.only) > len(x) {
		return first
	}
	end := min(first+(len(x)-from-len(p.only))/p.down+1, len(dst))
	simd.Decimate(dst[first:end], x[from:], p.only, p.down)
	return end
}

// convolve returns the sum of the row over x around sample n, taking x as zero
// beyond its ends.
func (p *plan) convolve(x []float64, n, row int) float64 {
	h := p.row(row)
	lo, hi := n-p.half+1, n+p.half+1
	if lo < 0 {
		h = h[-lo:]
		lo = 0
	}
	if hi > len(x) {
		hi = len(x)
		h = h[:hi-lo]
	}
	return simd.Dot(h, x[lo:hi])
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
