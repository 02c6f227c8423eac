package network

import "math"

// OneCycle is a learning rate that rises along half a cosine from Peak/25 to
// Peak over the first 30 % of the steps, and falls along another to Peak/10⁴ at
// the last. Smith & Topin 2018, arXiv 1708.07120 (the idea; the cosine, the 30 %
// and the two divisors are common practice).
type OneCycle struct {
	Peak  float64
	Steps int
}

const (
	oneCycleRise  = 0.3
	oneCycleStart = 1.0 / 25
	oneCycleEnd   = 1e-4
)

// Rate returns the learning rate of step k, 0 ≤ k < Steps.
func (c OneCycle) Rate(k int) float64 {
	top := oneCycleRise * float64(c.Steps-1)
	if x := float64(k); x < top {
		return c.Peak * cosine(oneCycleStart, 1, x/top)
	} else if rest := float64(c.Steps-1) - top; rest > 0 {
		return c.Peak * cosine(1, oneCycleEnd, (x-top)/rest)
	}
	return c.Peak
}

// cosine goes from a at x = 0 to b at x = 1 with level ends.
func cosine(a, b, x float64) float64 { return a + (b-a)*(1-math.Cos(math.Pi*x))/2 }
