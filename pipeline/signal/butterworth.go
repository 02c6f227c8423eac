package signal

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"
)

// Section is one second-order section of a recursive filter,
//
//	H(z) = (B[0] + B[1]/z + B[2]/z²) / (1 + A[0]/z + A[1]/z²).
type Section struct {
	B [3]float64
	A [2]float64
}

// response returns H at z = exp(jω), given 1/z.
func (s *Section) response(inv complex128) complex128 {
	b := complex(s.B[0], 0) + inv*(complex(s.B[1], 0)+inv*complex(s.B[2], 0))
	a := 1 + inv*(complex(s.A[0], 0)+inv*complex(s.A[1], 0))
	return b / a
}

// SOS is a filter as a cascade of second-order sections.
type SOS []Section

// ButterworthLowPass designs a low-pass of the given order whose gain falls to
// 1/√2 at cut hertz.
//
// A Butterworth filter is maximally flat: |H(Ω)|² = 1/(1 + (Ω/Ωc)^2N) in
// analogue frequency (Butterworth 1930, Experimental Wireless 7:536). The
// bilinear transform carries it to samples with Ω = tan(πf/fs), so that the
// gain at f hertz is exactly
//
//	|H(f)|² = 1 / (1 + (tan(πf/fs)/tan(π·cut/fs))^2N).
func ButterworthLowPass(order int, cut, fs float64) (SOS, error) {
	if err := checkDesign("low-pass", order, fs, cut); err != nil {
		return nil, err
	}
	warped := warp(cut, fs)
	poles := prototype(order)
	for i := range poles {
		poles[i] *= complex(warped, 0)
	}
	return assemble(poles, -1, -1, 1), nil
}

// ButterworthHighPass designs a high-pass of the given order whose gain falls to
// 1/√2 at cut hertz, by the same transform of the mirrored low-pass:
//
//	|H(f)|² = 1 / (1 + (tan(π·cut/fs)/tan(πf/fs))^2N).
func ButterworthHighPass(order int, cut, fs float64) (SOS, error) {
	if err := checkDesign("high-pass", order, fs, cut); err != nil {
		return nil, err
	}
	warped := warp(cut, fs)
	poles := prototype(order)
	for i := range poles {
		poles[i] = complex(warped, 0) / poles[i]
	}
	return assemble(poles, 1, 1, -1), nil
}

// ButterworthBandPass designs a band-pass from the low-pass of the given
// order, so that it has twice as many poles, with gain 1/√2 at low and at
// high hertz. With u = tan(πf/fs), l and h the same of the two edges,
//
//	|H(f)|² = 1 / (1 + ((u² − l·h)/(u·(h − l)))^2N).
func ButterworthBandPass(order int, low, high, fs float64) (SOS, error) {
	if err := checkDesign("band-pass", order, fs, low, high); err != nil {
		return nil, err
	}
	l, h := warp(low, fs), warp(high, fs)
	centre := complex(l*h, 0)
	half := complex((h-l)/2, 0)
	var poles []complex128
	for _, p := range prototype(order) {
		mid := p * half
		root := cmplx.Sqrt(mid*mid - centre)
		poles = append(poles, mid+root)
		if imag(p) != 0 || imag(root) == 0 {
			poles = append(poles, mid-root) // otherwise the conjugate of the first
		}
	}
	// The gain is one at the geometric mean of the warped edges.
	peak := cmplx.Exp(complex(0, -2*math.Atan(math.Sqrt(l*h))))
	return assemble(poles, 1, -1, peak), nil
}

func checkDesign(kind string, order int, fs float64, edges ...float64) error {
	if order < 1 {
		return fmt.Errorf("design Butterworth %s: order %d: want at least 1", kind, order)
	}
	last := 0.0
	for _, f := range edges {
		if !(f > last && f < fs/2) {
			return fmt.Errorf("design Butterworth %s: edge %g Hz: want rising edges between 0 and half the sampling rate, %g Hz", kind, f, fs/2)
		}
		last = f
	}
	return nil
}

// warp returns the analogue frequency that the bilinear transform
// s = (1 − 1/z)/(1 + 1/z) carries to f hertz.
func warp(f, fs float64) float64 { return math.Tan(math.Pi * f / fs) }

// prototype returns the poles of the analogue Butterworth low-pass with its
// edge at 1 rad/s, those above the real axis and that on it, each standing
// for itself and its conjugate.
func prototype(order int) []complex128 {
	poles := make([]complex128, 0, order)
	for k := 0; k < (order+1)/2; k++ {
		angle := math.Pi * float64(2*k+1+order) / float64(2*order)
		if 2*k+1 == order {
			poles = append(poles, -1)
		} else {
			poles = append(poles, cmplx.Exp(complex(0, angle)))
		}
	}
	return poles
}

// assemble carries analogue poles, given by one of each conjugate pair, to
// sections with zeros at zero1 and zero2 and a gain of one at the point whose
// inverse is unit. A single real pole gets a section of first order, two real
// poles (of a wide band-pass) share one.
func assemble(poles []complex128, zero1, zero2 float64, unit complex128) SOS {
	var sos SOS
	var real1 []float64
	for _, s := range poles {
		if math.Abs(imag(s)) <= 1e-14*cmplx.Abs(s) {
			real1 = append(real1, (1+real(s))/(1-real(s)))
			continue
		}
		z := (1 + s) / (1 - s)
		sos = append(sos, Section{
			B: [3]float64{1, -(zero1 + zero2), zero1 * zero2},
			A: [2]float64{-2 * real(z), real(z)*real(z) + imag(z)*imag(z)},
		})
	}
	switch len(real1) {
	case 1:
		sos = append(sos, Section{B: [3]float64{1, -zero1, 0}, A: [2]float64{-real1[0], 0}})
	case 2:
		sos = append(sos, Section{
			B: [3]float64{1, -(zero1 + zero2), zero1 * zero2},
			A: [2]float64{-(real1[0] + real1[1]), real1[0] * real1[1]},
		})
	}
	// Poles nearest the unit circle come last, as their ringing then meets the
	// least gain.
	sort.SliceStable(sos, func(i, j int) bool { return sos[i].A[1] < sos[j].A[1] })
	total := complex(1, 0)
	for i := range sos {
		h := sos[i].response(unit)
		total *= h
		scale(&sos[i].B, 1/cmplx.Abs(h))
	}
	if real(total) < 0 {
		scale(&sos[0].B, -1)
	}
	return sos
}

func scale(b *[3]float64, g float64) {
	for i := range b {
		b[i] *= g
	}
}
