package signal

import (
	"math"
	"math/cmplx"

	"phonocycle/pipeline/simd"
)

// ZeroPhase runs a filter forwards and then backwards over a signal, so that
// the response is |H|², real, and nothing is delayed.
//
// At each end the signal is extended by its point reflection, 2·x[0] − x[k],
// and the filter starts in the state that a constant input would have left it
// in (Gustafsson 1996, IEEE Trans Signal Process 44:988,
// doi 10.1109/78.492552, reviews the choices; these are the customary ones).
//
// The recursion is run on four parts of the signal at a time. Each part begins so
// far before its first sample that what the filter remembers from before then has
// fallen below the rounding of its sums, and for the way back ends as far behind
// its last. A ZeroPhase owns buffers and serves one goroutine.
type ZeroPhase struct {
	sections []simd.Section // an even number
	steady   [][2]float64   // state of each section after a long run of ones
	pad      int            // samples of the extension
	memory   int            // samples after which the past is forgotten
	extended []float64
	parts    []float64 // four parts of it side by side
	states   []simd.State
}

// What is forgotten: the slowest pole of the extension has fallen to a
// thousandth, and of the memory to less than the rounding of 53 bits.
const (
	extensionLeft = 1e-3
	memoryLeft    = 1e-18
)

// NewZeroPhase returns a zero-phase filter with the given sections.
//
// The extension is as long as the slowest pole takes to fall to a thousandth.
func NewZeroPhase(sos SOS) *ZeroPhase {
	z := &ZeroPhase{}
	level := 1.0
	slowest := 0.0
	for _, s := range sos {
		gain := (s.B[0] + s.B[1] + s.B[2]) / (1 + s.A[0] + s.A[1])
		z2 := s.B[2] - s.A[1]*gain
		z1 := s.B[1] - s.A[0]*gain + z2
		z.sections = append(z.sections, simd.Section(s))
		z.steady = append(z.steady, [2]float64{level * z1, level * z2})
		level *= gain
		slowest = math.Max(slowest, poleRadius(s))
	}
	if len(z.sections)%2 == 1 { // a section that changes nothing
		z.sections = append(z.sections, simd.Section{B: [3]float64{1}})
		z.steady = append(z.steady, [2]float64{})
	}
	z.states = make([]simd.State, len(z.sections))
	if slowest > 0 {
		z.pad = int(math.Ceil(math.Log(extensionLeft) / math.Log(slowest)))
		z.memory = int(math.Ceil(math.Log(memoryLeft) / math.Log(slowest)))
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
	margin := z.memory + p
	part := (n + simd.Width - 1) / simd.Width
	z.lay(x, p, margin, part)
	z.pass(false)
	for l := range simd.Width {
		z.level(l, margin+n+p-l*part)
	}
	z.pass(true)

	dst = resize(dst, n)
	filtered := z.parts[simd.Width*margin:]
	for l := range simd.Width {
		from := min(l*part, n)
		row := dst[from:min(from+part, n)]
		for i := range row {
			row[i] = filtered[simd.Width*i+l]
		}
	}
	return dst
}

// lay lays the four parts of x side by side, each with a margin before and behind:
// its neighbours in x or, at the ends, p samples of the point reflections and then
// what they end with.
func (z *ZeroPhase) lay(x []float64, p, margin, part int) {
	n, reach := len(x), part+2*margin
	z.extended = resize(z.extended, simd.Width*part+2*margin)
	within := margin <= part && 3*part+margin <= n // whether the middle parts reach beyond x
	if within {
		copy(z.extended[margin:], x[:part+margin])
		copy(z.extended[3*part:], x[3*part-margin:])
	} else {
		copy(z.extended[margin:], x)
	}
	ends := z.extended[margin-p : margin+n+p]
	for k := 1; k <= p; k++ {
		ends[p-k] = 2*x[0] - x[k]
		ends[p+n-1+k] = 2*x[n-1] - x[n-1-k]
	}
	fill(z.extended[:margin-p], ends[0])
	fill(z.extended[margin+n+p:], ends[len(ends)-1])

	var rows [simd.Width][]float64
	for l := range rows {
		rows[l] = z.extended[l*part:][:reach]
		if within && (l == 1 || l == 2) {
			rows[l] = x[l*part-margin:][:reach]
		}
	}
	z.parts = resize(z.parts, simd.Width*reach)
	simd.Interleave(z.parts, &rows)
}

func fill(x []float64, v float64) {
	for i := range x {
		x[i] = v
	}
}

// level makes the elements of part l from from on equal to that before, so that
// the way back begins with a constant where the signal has ended.
func (z *ZeroPhase) level(l, from int) {
	for at := simd.Width*from + l; at < len(z.parts); at += simd.Width {
		z.parts[at] = z.parts[at-simd.Width]
	}
}

// pass filters the parts once, each from the steady state of its first value.
func (z *ZeroPhase) pass(backwards bool) {
	first := z.parts[:simd.Width]
	if backwards {
		first = z.parts[len(z.parts)-simd.Width:]
	}
	for i, s := range z.steady {
		for l, v := range first {
			z.states[i][0][l], z.states[i][1][l] = v*s[0], v*s[1]
		}
	}
	for i := 0; i < len(z.sections); i += 2 {
		simd.Cascade(z.parts, (*[2]simd.Section)(z.sections[i:]), (*[2]simd.State)(z.states[i:]), backwards)
	}
}
