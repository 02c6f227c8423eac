package segment

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"phonocycle/pipeline/simd"
)

// logisticRegression fits P(y = 1 | x) = σ(w₀ + Σ w_k x_k), σ(z) = 1/(1 + e^−z),
// by minimising
//
//	Σ_i c_i·ln(1 + exp(−s_i z_i)) + (l2/2)·Σ_{k≥1} w_k²,   s = ±1,
//
// with weights c_i = w_i·n/(2·n_class) that make both classes count alike, where w are
// the weights of the rows, n is their sum and n_class that of the class. The intercept
// is not penalised.
//
// The minimum is found by Newton's method, which for this objective is
// iteratively reweighted least squares (McCullagh and Nelder 1989, Generalized
// Linear Models, chapter 4), with the step halved until the objective falls.
// The objective is convex, for l2 > 0 strictly so in all but the intercept.
type logisticRegression struct {
	x       []float64 // rows of width values
	width   int
	y       []bool
	weights []float64 // of the rows
	l2      float64
}

// errOneClass is returned where there is nothing to tell apart.
var errOneClass = errors.New("all examples are of one class")

// Limits of Newton's method. The gradient is compared to the number of examples.
const (
	newtonSteps     = 100
	newtonTolerance = 1e-12
	newtonHalvings  = 40
)

// fit returns the intercept and the weights.
func (r *logisticRegression) fit() ([]float64, error) {
	costs, err := r.costs()
	if err != nil {
		return nil, err
	}
	p := r.width + 1
	w := make([]float64, p)
	next := make([]float64, p)
	gradient := mat.NewVecDense(p, nil)
	hessian := mat.NewSymDense(p, nil)
	var cholesky mat.Cholesky
	step := mat.NewVecDense(p, nil)
	for range newtonSteps {
		value := r.derivatives(w, costs, gradient, hessian)
		if mat.Norm(gradient, math.Inf(1)) <= newtonTolerance*float64(len(r.y)) {
			return w, nil
		}
		if !cholesky.Factorize(hessian) {
			return nil, errors.New("logistic regression: the features depend on each other: leave one out or raise l2")
		}
		if err := cholesky.SolveVecTo(step, gradient); err != nil && !errors.As(err, new(mat.Condition)) {
			return nil, fmt.Errorf("logistic regression: %w", err)
		}
		if !r.descend(w, next, costs, step, value) {
			return w, nil // no smaller value can be told apart in float64
		}
		w, next = next, w
	}
	return nil, fmt.Errorf("logistic regression: no minimum after %d steps: raise l2", newtonSteps)
}

// descend puts w − step·2^−k into next for the least k that lowers the
// objective.
func (r *logisticRegression) descend(w, next []float64, costs [2]float64, step *mat.VecDense, value float64) bool {
	scale := 1.0
	for range newtonHalvings {
		floats.AddScaledTo(next, w, -scale, step.RawVector().Data)
		if r.objective(next, costs) < value {
			return true
		}
		scale /= 2
	}
	return false
}

// costs returns the weights of the classes, false and true.
func (r *logisticRegression) costs() (c [2]float64, err error) {
	var total, positive float64
	for i, y := range r.y {
		total += r.weights[i]
		if y {
			positive += r.weights[i]
		}
	}
	if positive == 0 || positive == total {
		return c, fmt.Errorf("logistic regression: %w", errOneClass)
	}
	return [2]float64{total / (2 * (total - positive)), total / (2 * positive)}, nil
}

// example returns the features, the sign and the weight of example i.
func (r *logisticRegression) example(i int, costs [2]float64) (row []float64, sign, cost float64) {
	row = r.x[i*r.width : (i+1)*r.width]
	if r.y[i] {
		return row, 1, costs[1] * r.weights[i]
	}
	return row, -1, costs[0] * r.weights[i]
}

func (r *logisticRegression) objective(w []float64, costs [2]float64) float64 {
	sum := 0.0
	for i := range r.y {
		row, sign, cost := r.example(i, costs)
		sum += cost * softplus(-sign*linear(w, row))
	}
	for _, v := range w[1:] {
		sum += r.l2 / 2 * v * v
	}
	return sum
}

// derivatives returns the objective at w and fills in its gradient and Hessian.
func (r *logisticRegression) derivatives(w []float64, costs [2]float64, gradient *mat.VecDense, hessian *mat.SymDense) float64 {
	value := 0.0
	gradient.Zero()
	hessian.Zero()
	g, h, p := gradient.RawVector().Data, hessian.RawSymmetric().Data, r.width+1
	for i := range r.y {
		row, sign, cost := r.example(i, costs)
		z := sign * linear(w, row)
		value += cost * softplus(-z)
		wrong := sigmoid(-z)
		slope := -cost * sign * wrong
		curve := cost * wrong * (1 - wrong)
		g[0] += slope
		h[0] += curve
		for a, u := range row { // the Hessian holds its upper triangle
			g[a+1] += slope * u
			h[a+1] += curve * u
			for b, v := range row[:a+1] {
				h[(b+1)*p+a+1] += curve * u * v
			}
		}
	}
	for k := 1; k < p; k++ {
		value += r.l2 / 2 * w[k] * w[k]
		g[k] += r.l2 * w[k]
		h[k*p+k] += r.l2
	}
	return value
}

// linear returns w₀ + Σ w_k x_k.
func linear(w, x []float64) float64 {
	z := w[0]
	for k, v := range x {
		z += w[k+1] * v
	}
	return z
}

func sigmoid(z float64) float64 {
	if z >= 0 {
		return 1 / (1 + math.Exp(-z))
	}
	e := math.Exp(z)
	return e / (1 + e)
}

// softplus returns ln(1 + e^z) without overflow.
func softplus(z float64) float64 {
	return math.Max(z, 0) + math.Log1p(math.Exp(-math.Abs(z)))
}

// logSigmoids writes ln σ(z) = −softplus(−z) of each z to dst, which must not
// overlap z, and returns it.
func logSigmoids(dst, z []float64) []float64 {
	for i, v := range z {
		dst[i] = -math.Abs(v)
	}
	simd.Exp(dst, dst)
	for i := range dst {
		dst[i]++
	}
	simd.Log(dst, dst)
	for i, v := range z {
		dst[i] = min(v, 0) - dst[i]
	}
	return dst
}
