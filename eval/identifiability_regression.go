package eval

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/optimize"
)

// multinomial is a multinomial logistic regression: the probability of class k
// given the features x is
//
//	P(k|x) = exp(b_k + w_k·x) / Σ_j exp(b_j + w_j·x)
//
// and the parameters are those that minimise
//
//	λ/2 Σ_k ‖w_k‖² − Σ_i ln P(y_i|x_i)
//
// the negative logarithm of the likelihood with a ridge penalty λ on all but the
// intercepts (le Cessie and van Houwelingen 1992, doi 10.2307/2347628, for two
// classes). Where the likelihood carries the weight, as C Σ_i ln P against
// ½ Σ_k ‖w_k‖², λ is 1/C. The problem is convex and has one minimum, up to a constant common
// to all intercepts, which changes no probability.
type multinomial struct {
	classes, width int
	parameters     []float64 // of each class: width weights, then the intercept
}

// fitMultinomial estimates the regression of classes y on the rows of x by the
// limited-memory quasi-Newton method (Liu and Nocedal 1989, doi
// 10.1007/BF01589116).
func fitMultinomial(x [][]float64, y []int, classes int, lambda float64) (*multinomial, error) {
	m := &multinomial{classes: classes, width: len(x[0])}
	p := make([]float64, classes)
	loss := func(gradient, at []float64) float64 {
		m.parameters = at
		sum := m.penalty(gradient, at, lambda)
		for i, row := range x {
			m.probabilities(p, row)
			sum -= math.Log(math.Max(p[y[i]], math.SmallestNonzeroFloat64))
			if gradient != nil {
				p[y[i]]--
				m.addOuter(gradient, p, row)
			}
		}
		return sum
	}
	problem := optimize.Problem{
		Func: func(at []float64) float64 { return loss(nil, at) },
		Grad: func(gradient, at []float64) { loss(gradient, at) },
	}
	settings := &optimize.Settings{GradientThreshold: 1e-6, MajorIterations: 2000, Converger: optimize.NeverTerminate{}}
	result, err := optimize.Minimize(problem, make([]float64, classes*(m.width+1)), settings, &optimize.LBFGS{Store: 10})
	if err != nil && (result == nil || math.IsNaN(result.F)) {
		return nil, fmt.Errorf("fit a logistic regression: %w", err)
	}
	// A line search that can go no further has found the minimum to the last digits.
	m.parameters = result.X
	return m, nil
}

// penalty returns the ridge penalty λ and, unless it is nil, sets gradient to the
// gradient of it.
func (m *multinomial) penalty(gradient, at []float64, lambda float64) float64 {
	var sum float64
	for i, w := range at {
		if (i+1)%(m.width+1) == 0 {
			w = 0 // intercepts are free
		}
		sum += lambda * w * w / 2
		if gradient != nil {
			gradient[i] = lambda * w
		}
	}
	return sum
}

// addOuter adds the outer product of p and (row, 1) to gradient.
func (m *multinomial) addOuter(gradient, p, row []float64) {
	for k, q := range p {
		g := gradient[k*(m.width+1):]
		for j, v := range row {
			g[j] += q * v
		}
		g[m.width] += q
	}
}

// probabilities sets p to the probability of each class.
func (m *multinomial) probabilities(p, row []float64) {
	highest := math.Inf(-1)
	for k := range p {
		w := m.parameters[k*(m.width+1) : (k+1)*(m.width+1)]
		s := w[m.width]
		for j, v := range row {
			s += w[j] * v
		}
		p[k] = s
		highest = math.Max(highest, s)
	}
	var total float64
	for k := range p {
		p[k] = math.Exp(p[k] - highest)
		total += p[k]
	}
	for k := range p {
		p[k] /= total
	}
}

// scaling brings features to mean 0 and standard deviation 1, and a missing
// value to 0.
type scaling struct{ mean, perSD []float64 }

// scalingOf learns the scaling of the given rows. A feature that does not vary
// there becomes 0 throughout.
func scalingOf(x [][]float64, width int) scaling {
	s := scaling{make([]float64, width), make([]float64, width)}
	for j := range width {
		var n, sum, squares float64
		for _, row := range x {
			if v := row[j]; !math.IsNaN(v) {
				n++
				sum += v
			}
		}
		mean := sum / n
		for _, row := range x {
			if d := row[j] - mean; !math.IsNaN(d) {
				squares += d * d
			}
		}
		s.mean[j] = mean
		if sd := math.Sqrt(squares / n); sd > 1e-12*math.Abs(mean) && sd > 0 {
			s.perSD[j] = 1 / sd
		}
	}
	return s
}

// apply returns the scaled rows.
func (s *scaling) apply(x [][]float64) [][]float64 {
	out := make([][]float64, len(x))
	for i, row := range x {
		out[i] = make([]float64, len(row))
		for j, v := range row {
			if z := (v - s.mean[j]) * s.perSD[j]; !math.IsNaN(z) {
				out[i][j] = z
			}
		}
	}
	return out
}
