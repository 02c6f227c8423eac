package segment

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// checkValues holds what testdata/segment/check.py wrote with scikit-learn and
// SciPy.
type checkValues struct {
	X     []float64 `json:"x"`
	Width int       `json:"width"`
	Y     []int     `json:"y"`
	Fits  []struct {
		L2      float64   `json:"l2"`
		Weights []float64 `json:"weights"`
	} `json:"fits"`
}

func loadCheckValues(t *testing.T) *checkValues {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "segment", "check.json"))
	if err != nil {
		t.Fatal(err)
	}
	var v checkValues
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return &v
}

func (v *checkValues) regression(l2 float64) *logisticRegression {
	r := &logisticRegression{x: v.X, width: v.Width, l2: l2}
	for _, y := range v.Y {
		r.y, r.weights = append(r.y, y == 1), append(r.weights, 1)
	}
	return r
}

// Check values by scikit-learn (Pedregosa et al. 2011, J Mach Learn Res 12:2825)
// with the same weights of classes and the same penalty.
func TestLogisticRegressionAgainstScikitLearn(t *testing.T) {
	v := loadCheckValues(t)
	for _, f := range v.Fits {
		w, err := v.regression(f.L2).fit()
		if err != nil {
			t.Fatal(err)
		}
		for k := range w {
			if math.Abs(w[k]-f.Weights[k]) > 1e-7 {
				t.Errorf("l2 %g: weight %d is %.10g, want %.10g", f.L2, k, w[k], f.Weights[k])
			}
		}
	}
}

// The derivatives agree with differences of the objective and of the gradient.
func TestLogisticRegressionDerivatives(t *testing.T) {
	r := loadCheckValues(t).regression(0.7)
	costs, err := r.costs()
	if err != nil {
		t.Fatal(err)
	}
	const p, h = 4, 1e-5
	w := []float64{-0.4, 0.9, -0.2, 0.1}
	at := func(k int, d float64) ([]float64, *mat.VecDense) {
		v := append([]float64(nil), w...)
		v[k] += d
		g := mat.NewVecDense(p, nil)
		r.derivatives(v, costs, g, mat.NewSymDense(p, nil))
		return v, g
	}
	gradient, hessian := mat.NewVecDense(p, nil), mat.NewSymDense(p, nil)
	if value := r.derivatives(w, costs, gradient, hessian); math.Abs(value-r.objective(w, costs)) > 1e-9 {
		t.Errorf("objective %g beside the derivatives, %g alone", value, r.objective(w, costs))
	}
	for a := range p {
		up, gUp := at(a, h)
		down, gDown := at(a, -h)
		if d := (r.objective(up, costs) - r.objective(down, costs)) / (2 * h); math.Abs(d-gradient.AtVec(a)) > 1e-5 {
			t.Errorf("gradient %d is %g, the difference quotient %g", a, gradient.AtVec(a), d)
		}
		for b := range p {
			if d := (gUp.AtVec(b) - gDown.AtVec(b)) / (2 * h); math.Abs(d-hessian.At(a, b)) > 1e-5 {
				t.Errorf("Hessian %d, %d is %g, the difference quotient %g", a, b, hessian.At(a, b), d)
			}
		}
	}
}

// Separable classes have no finite maximum of the likelihood; the penalty gives
// one.
func TestLogisticRegressionOfSeparableClasses(t *testing.T) {
	r := &logisticRegression{x: []float64{-2, -1, 1, 2}, width: 1, y: []bool{false, false, true, true}, weights: []float64{1, 1, 1, 1}, l2: 1e-6}
	w, err := r.fit()
	if err != nil {
		t.Fatal(err)
	}
	if !(w[1] > 5 && w[1] < 100) || math.Abs(w[0]) > 1e-6 {
		t.Errorf("weights %v", w)
	}
	r.y = make([]bool, 4)
	if _, err := r.fit(); !errors.Is(err, errOneClass) {
		t.Errorf("one class: error %v", err)
	}
}

// A row of weight two counts as two rows.
func TestLogisticRegressionWeightsRows(t *testing.T) {
	v := loadCheckValues(t)
	weighted, repeated := v.regression(1), v.regression(1)
	for i := range 20 {
		weighted.weights[i] = 2
		repeated.x = append(repeated.x, repeated.x[i*v.Width:(i+1)*v.Width]...)
		repeated.y, repeated.weights = append(repeated.y, repeated.y[i]), append(repeated.weights, 1)
	}
	got, err := weighted.fit()
	if err != nil {
		t.Fatal(err)
	}
	want, err := repeated.fit()
	if err != nil {
		t.Fatal(err)
	}
	plain, err := v.regression(1).fit()
	if err != nil {
		t.Fatal(err)
	}
	for k := range got {
		if math.Abs(got[k]-want[k]) > 1e-7 || math.Abs(got[k]-plain[k]) < 1e-5 {
			t.Errorf("weight %d is %.8f, %.8f with repeated rows, %.8f with neither", k, got[k], want[k], plain[k])
		}
	}
}

func TestSoftplus(t *testing.T) {
	for _, z := range []float64{-800, -30, -1, 0, 1, 30, 800} {
		want := math.Max(z, 0) // beyond the range of exp
		if math.Abs(z) < 100 {
			want = math.Log(1 + math.Exp(z))
		}
		if got := softplus(z); math.Abs(got-want) > 1e-12*math.Max(1, want) {
			t.Errorf("softplus(%g) = %g, want %g", z, got, want)
		}
		if got := logSigmoids(make([]float64, 1), []float64{-z})[0]; math.Abs(got+want) > 1e-12*math.Max(1, want) {
			t.Errorf("logSigmoids(%g) = %g, want %g", -z, got, -want)
		}
		if s := sigmoid(z) + sigmoid(-z); math.Abs(s-1) > 1e-15 {
			t.Errorf("σ(%g) + σ(−%g) = %g", z, z, s)
		}
	}
}
