package eval

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// fitMultinomial estimates a multinomial logistic regression of classes y on the
// rows of x, whose last column is 1. The probability of class k given the features x
// is
//
//	P(k|x) = exp(w_k·x) / Σ_j exp(w_j·x)
//
// and the weights, one row per class with the intercept last, are those that minimise
//
//	λ/2 Σ_k ‖w_k‖² − Σ_i ln P(y_i|x_i)
//
// the negative logarithm of the likelihood with a ridge penalty λ on all but the
// intercepts (le Cessie and van Houwelingen 1992, doi 10.2307/2347628, for two
// classes). The problem is convex and has one minimum, up to a constant common to all
// intercepts, which changes no probability. It is found by the limited-memory
// quasi-Newton method (Liu and Nocedal 1989, doi 10.1007/BF01589116).
func fitMultinomial(x *mat.Dense, y []int, classes int, lambda float64) (*mat.Dense, error) {
	_, width := x.Dims()
	loss := func(gradient, at []float64) float64 {
		weights := mat.NewDense(classes, width, at)
		p := multinomial(x, weights)
		var sum float64
		for i, class := range y {
			sum -= math.Log(math.Max(p.At(i, class), math.SmallestNonzeroFloat64))
			p.Set(i, class, p.At(i, class)-1)
		}
		penalised := mat.DenseCopyOf(weights)
		for k := range classes {
			penalised.Set(k, width-1, 0)
		}
		if gradient != nil {
			g := mat.NewDense(classes, width, gradient)
			g.Mul(p.T(), x)
			floats.AddScaled(gradient, lambda, penalised.RawMatrix().Data)
		}
		return sum + lambda/2*floats.Dot(penalised.RawMatrix().Data, penalised.RawMatrix().Data)
	}
	problem := optimize.Problem{
		Func: func(at []float64) float64 { return loss(nil, at) },
		Grad: func(gradient, at []float64) { loss(gradient, at) },
	}
	settings := &optimize.Settings{GradientThreshold: 1e-6, MajorIterations: 2000, Converger: optimize.NeverTerminate{}}
	result, err := optimize.Minimize(problem, make([]float64, classes*width), settings, &optimize.LBFGS{Store: 10})
	if err != nil && (result == nil || math.IsNaN(result.F)) {
		return nil, fmt.Errorf("fit a logistic regression: %w", err)
	}
	// A line search that can go no further has found the minimum to the last digits.
	return mat.NewDense(classes, width, result.X), nil
}

// multinomial returns the probabilities of the classes, one row per row of x.
func multinomial(x, weights *mat.Dense) *mat.Dense {
	var p mat.Dense
	p.Mul(x, weights.T())
	n, _ := p.Dims()
	for i := range n {
		row := p.RawRowView(i)
		highest := floats.Max(row)
		for k := range row {
			row[k] = math.Exp(row[k] - highest)
		}
		floats.Scale(1/floats.Sum(row), row)
	}
	return &p
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

// apply returns the scaled rows with a last column of 1, for the intercept.
func (s *scaling) apply(x [][]float64) *mat.Dense {
	width := len(s.mean) + 1
	out := mat.NewDense(len(x), width, ones(len(x)*width))
	for i, row := range x {
		for j, v := range row {
			z := (v - s.mean[j]) * s.perSD[j]
			if math.IsNaN(z) {
				z = 0
			}
			out.Set(i, j, z)
		}
	}
	return out
}

func ones(n int) []float64 { return slices.Repeat([]float64{1}, n) }
