package signal

import (
	"math"
	"math/cmplx"
)

// ZeroPhase runs a filter forwards and then backwards over a signal, so that
// the response is |H|², real, and nothing is delayed.
//
// At each end the signal is extended by its point reflection, 2·x[0] − x[k],
// and the filter starts in the state that a constant input would have left it
// in (Gustafsson 1996, IEEE Trans Signal Process 44:988,
// doi 10.1109/78.492552, reviews the choices; these are the customary ones).
type ZeroPhase struct {
	sos    SOS
	steady [][2]float64 // state of each section after a long run of ones
	pad    int
	buf    []float64
}

// NewZeroPhase returns a zero-phase filter with the given sections.
//
// The extension is as long as the slowest pole takes to fall to a thousandth.
func NewZeroPhase(sos SOS) *ZeroPhase {
	z := &ZeroPhase{sos: sos, steady: make([][2]float64, len(sos))}
	level := 1.0
	slowest := 0.0
	for i, s := range sos {
		gain := (s.B[0] + s.B[1] + s.B[2]) / (1 + s.A[0] + s.A[1])
		z2 := s.B[2] - s.A[1]*gain
		z1 := s.B[1] - s.A[0]*gain + z2
		z.steady[i] = [2]float64{level * z1, level * z2}
		level *= gain
		slowest = math.Max(slowest, poleRadius(s))
	}
	if slowest > 0 {
		z.pad = int(math.Ceil(math.Log(1e-3) / math.Log(slowest)))
	}
	return z
}

// poleRadius returns the larger magnitude of the poles of s.
func poleRadius(s Section) float64 {
	half := complex(-s.A[0]/2, 0)
	root := cmplx.Sqrt(half*half - complex(s.A[1], 0))
	return math.Max(cmplx.Abs(half+root), cmplx.Abs(half-root))
}

// Filter writes the filtered x to dst, which may be x.
func (z *ZeroPhase) Filter(dst, x []float64) []float64 {
	n := len(x)
	if n == 0 {
		return dst[:0]
	}
	p := min(z.pad, n-1)
	z.buf = resize(z.buf, n+2*p)
	copy(z.buf[p:], x)
	for k := 1; k <= p; k++ {
		z.buf[p-k] = 2*x[0] - x[k]
		z.buf[p+n-1+k] = 2*x[n-1] - x[n-1-k]
	}
	z.pass()
	reverse(z.buf)
	z.pass()
	reverse(z.buf)
	dst = resize(dst, n)
	copy(dst, z.buf[p:p+n])
	return dst
}

// pass filters the buffer once, from the steady state of its first value.
func (z *ZeroPhase) pass() {
	first := z.buf[0]
	i := 0
	for ; i+1 < len(z.sos); i += 2 {
		a, b := z.steady[i], z.steady[i+1]
		z.sos[i].runTwo(&z.sos[i+1], z.buf, first*a[0], first*a[1], first*b[0], first*b[1])
	}
	if i < len(z.sos) {
		z.sos[i].run(z.buf, first*z.steady[i][0], first*z.steady[i][1])
	}
}

func reverse(x []float64) {
	for i, j := 0, len(x)-1; i < j; i, j = i+1, j-1 {
		x[i], x[j] = x[j], x[i]
	}
}
