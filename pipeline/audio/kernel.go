package audio

import "math"

// The specification of the filter. Edges are fractions of the lower of the two
// rates.
const (
	passEdge    = 0.4 // kept up to here
	stopEdge    = 0.5 // removed from here: half the lower rate
	attenuation = 100 // dB; the rounding noise of 16-bit audio lies at −98 dB
)

// kernel is the windowed sinc h(t) of the package comment. Times count input
// samples, frequencies cycles an input sample.
type kernel struct {
	cutoff float64 // c
	half   float64 // T: h is zero from here on
	beta   float64 // of Kaiser's window
	norm   float64 // I₀(β)
}

// newKernel designs the kernel for a change of rate from from to to.
func newKernel(from, to int) kernel {
	lower := float64(min(from, to)) / float64(from)
	beta := kaiserBeta(attenuation)
	return kernel{
		cutoff: (passEdge + stopEdge) / 2 * lower,
		half:   kaiserLength(attenuation, (stopEdge-passEdge)*lower) / 2,
		beta:   beta,
		norm:   besselI0(beta),
	}
}

// at returns h(t).
func (k kernel) at(t float64) float64 {
	u := t / k.half
	if math.Abs(u) >= 1 {
		return 0
	}
	w := besselI0(k.beta*math.Sqrt(1-float64(u*u))) / k.norm
	return 2 * k.cutoff * sinc(2*k.cutoff*t) * w
}

// kaiserBeta returns the shape parameter of Kaiser's window for an attenuation
// above 50 dB: β = 0.1102 (A − 8.7) (Kaiser 1974).
func kaiserBeta(db float64) float64 { return 0.1102 * (db - 8.7) }

// kaiserLength returns the length of the window, in samples, that reaches the
// attenuation with a transition band of the given width in cycles a sample:
// (A − 7.95) / (2.285 · 2π · width) (Kaiser 1974).
func kaiserLength(db, width float64) float64 {
	return (db - 7.95) / (2.285 * 2 * math.Pi * width)
}

// sinc returns sin(πz)/(πz).
func sinc(z float64) float64 {
	if z == 0 {
		return 1
	}
	return math.Sin(math.Pi*z) / (math.Pi * z)
}

// besselI0 returns the modified Bessel function of the first kind and order
// zero by its power series, I₀(z) = Σ_k ((z/2)^k / k!)², all of whose terms
// are positive. It is meant for the z of windows, up to some tens.
func besselI0(z float64) float64 {
	q := z * z / 4
	sum, term := 1.0, 1.0
	for k := 1.0; term > sum*0x1p-54; k++ {
		term = float64(term * (q / (k * k)))
		sum += term
	}
	return sum
}
