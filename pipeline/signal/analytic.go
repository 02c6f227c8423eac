package signal

import (
	"math"

	"phonocycle/pipeline/simd"
)

// reflected is the number of mirrored samples before and after a signal that is
// at least as long.
const reflected = 512

// Analytic computes the analytic signal x + j·H{x} of a whole recording,
// where H is the Hilbert transform: every positive frequency delayed by a
// quarter of its period (Gabor 1946, J IEE 93:429). Its magnitude is the
// envelope; that of a tone of amplitude A is A.
//
// The transform is taken in the frequency domain, which makes the signal
// periodic, so that its end would meet its beginning. Both ends are therefore
// first extended by their mirror images, 512 samples or as many as the signal
// has, which fade to nothing by half a period of a cosine, and zeros follow, to a
// length that is eight times a power of two, or three times one. Without the
// fading there would be a step at the seam, of which H remembers 1/distance, and
// all of the envelope would depend on the length.
type Analytic struct {
	plans    map[int]*simd.Hilbert // by length
	in, work simd.Block

	fade       []float64 // of as many samples as were last mirrored
	quadrature []float64
}

// NewAnalytic returns a plan that fits itself to the length of its input.
func NewAnalytic() *Analytic { return &Analytic{plans: make(map[int]*simd.Hilbert)} }

// Envelope writes |x + j·H{x}| to dst, which may be x.
func (a *Analytic) Envelope(dst, x []float64) []float64 {
	a.quadrature = a.hilbert(a.quadrature, x)
	dst = resize(dst, len(x))
	simd.Magnitude(dst, x, a.quadrature)
	return dst
}

// hilbert writes H{x} to dst, which may be x.
func (a *Analytic) hilbert(dst, x []float64) []float64 {
	q := a.transform(x)
	dst = resize(dst, len(x))
	half := len(x) / 2
	re, im := q.Re[:half], q.Im[:half]
	for m, v := range re {
		dst[2*m], dst[2*m+1] = v, im[m]
	}
	if len(x)%2 == 1 {
		dst[2*half] = q.Re[half]
	}
	return dst
}

// transform returns H{x}, the samples 2m as Re[m], the samples 2m + 1 as Im[m],
// until the next call.
func (a *Analytic) transform(x []float64) simd.Block {
	n := len(x)
	if n == 0 {
		return simd.Block{}
	}
	margin := min(n, reflected)
	before := margin + margin%2
	length := simd.HilbertLength(before + n + margin)
	if cap(a.in.Re) < length/2 {
		a.in, a.work = simd.NewBlock(length/8), simd.NewBlock(length/8)
	}
	in := a.in.First(length / 8)
	if len(a.fade) != margin {
		a.fade = fading(a.fade, margin)
	}
	extend(in, x, before, a.fade)
	h := a.plan(length).Transform(in, a.work.First(length/8))
	return simd.Block{Re: h.Re[before/2:], Im: h.Im[before/2:]}
}

// fading returns the weights (1 + cos(π(k + ½)/n)) / 2 of the n mirrored samples,
// those next to the signal first, in dst if it has the capacity.
func fading(dst []float64, n int) []float64 {
	dst = resize(dst, n)
	for k := range dst {
		dst[k] = (1 + math.Cos(math.Pi*(float64(k)+0.5)/float64(n))) / 2
	}
	return dst
}

// extend writes x, after an even number of samples, with its mirror images on both
// sides, as long as fade and weighted by it, to z: sample 2m of all to Re[m], sample
// 2m + 1 to Im[m].
func extend(z simd.Block, x []float64, before int, fade []float64) {
	n := len(x)
	put := func(i int, v float64) {
		if i%2 == 0 {
			z.Re[i/2] = v
		} else {
			z.Im[i/2] = v
		}
	}
	clear(z.Re[(before+n)/2:])
	clear(z.Im[(before+n)/2:])
	put(0, 0) // where the margin is odd
	re, im := z.Re[before/2:(before+n)/2], z.Im[before/2:(before+n)/2]
	for m := range re {
		re[m], im[m] = x[2*m], x[2*m+1]
	}
	if n%2 == 1 {
		put(before+n-1, x[n-1])
	}
	for k, w := range fade {
		put(before-1-k, w*x[k])
		put(before+n+k, w*x[n-1-k])
	}
}

// mostKept is the length up to which plans are kept, some four minutes at 1 kHz:
// recordings of one data set have few lengths between them.
const mostKept = 1 << 18

func (a *Analytic) plan(length int) *simd.Hilbert {
	p, ok := a.plans[length]
	if !ok {
		p = simd.NewHilbert(length)
		if length <= mostKept {
			a.plans[length] = p
		}
	}
	return p
}
