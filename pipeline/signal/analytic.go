package signal

import "phonocycle/pipeline/lanes"

// reflected is the least number of mirrored samples before and after a signal
// that is at least as long.
const reflected = 512

// Analytic computes the analytic signal x + j·H{x} of a whole recording,
// where H is the Hilbert transform: every positive frequency delayed by a
// quarter of its period (Gabor 1946, J IEE 93:429). Its magnitude is the
// envelope; that of a tone of amplitude A is A.
//
// The transform is taken in the frequency domain, which makes the signal
// periodic, so that its end would meet its beginning. Both ends are therefore
// first extended by their mirror images, at least 512 samples where the
// signal has as many, to a length that is a power of two, or three times one;
// the seam lies that far outside.
type Analytic struct {
	plans    map[int]*lanes.Hilbert // by length
	in, work lanes.Block

	quadrature []float64
}

// NewAnalytic returns a plan that fits itself to the length of its input.
func NewAnalytic() *Analytic { return &Analytic{plans: make(map[int]*lanes.Hilbert)} }

// Quadrature writes H{x} to dst, which may be x.
func (a *Analytic) Quadrature(dst, x []float64) []float64 {
	q := a.transform(x)
	dst = resize(dst, len(x))
	half := len(x) / 2
	lanes.Zip(dst[:2*half], q.Re[:half], q.Im[:half])
	if len(x)%2 == 1 {
		dst[2*half] = q.Re[half]
	}
	return dst
}

// Envelope writes |x + j·H{x}| to dst, which may be x.
func (a *Analytic) Envelope(dst, x []float64) []float64 {
	a.quadrature = a.Quadrature(a.quadrature, x)
	dst = resize(dst, len(x))
	lanes.Magnitude(dst, x, a.quadrature)
	return dst
}

// transform returns H{x}, the samples 2m as Re[m], the samples 2m + 1 as Im[m],
// until the next call.
func (a *Analytic) transform(x []float64) lanes.Block {
	n := len(x)
	if n == 0 {
		return lanes.Block{}
	}
	length := lanes.HilbertLength(n + 2*min(n, reflected))
	before := (length - n) / 4 * 2
	if cap(a.in.Re) < length/2 {
		a.in, a.work = lanes.NewBlock(length/8), lanes.NewBlock(length/8)
	}
	in := a.in.First(length / 8)
	extend(in, x, before)
	h := a.plan(length).Transform(in, a.work.First(length/8))
	return lanes.Block{Re: h.Re[before/2:], Im: h.Im[before/2:]}
}

// extend writes x and its mirror images to z, sample 2m of all to Re[m], sample
// 2m + 1 to Im[m]; x begins after an even number of samples.
func extend(z lanes.Block, x []float64, before int) {
	n := len(x)
	from, to := before/2, before/2+n/2 // where both samples lie within x
	for m := range from {
		z.Re[m], z.Im[m] = x[mirror(2*m-before, n)], x[mirror(2*m+1-before, n)]
	}
	lanes.Unzip(z.Re[from:to], z.Im[from:to], x[:n/2*2])
	for m := to; m < len(z.Re); m++ {
		z.Re[m], z.Im[m] = x[mirror(2*m-before, n)], x[mirror(2*m+1-before, n)]
	}
}

// mostKept is the length up to which plans are kept, some four minutes at 1 kHz:
// recordings of one data set have few lengths between them.
const mostKept = 1 << 18

func (a *Analytic) plan(length int) *lanes.Hilbert {
	p, ok := a.plans[length]
	if !ok {
		p = lanes.NewHilbert(length)
		if length <= mostKept {
			a.plans[length] = p
		}
	}
	return p
}

// mirror maps an index outside [0, n) to the sample that it sees in mirrors
// standing at −1/2 and at n − 1/2.
func mirror(i, n int) int {
	i %= 2 * n
	if i < 0 {
		i += 2 * n
	}
	if i >= n {
		i = 2*n - 1 - i
	}
	return i
}
