package eval

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// checkValues are those of testdata/eval/statistics.py, made with SciPy.
type checkValues struct {
	Wilcoxon []struct {
		Name  string
		D     []float64
		W, P  float64
		Exact bool
	}
	Holm    struct{ P, Adjusted []Ratio }
	Wilson  []struct{ K, N, Low, High float64 }
	Spatial struct{ Data, Percentile, BCa []float64 }
	Flow    struct {
		Difference []float64
		Mean, SD   float64
		Intervals  [3][2]float64 // of bias, lower and upper limit
	}
	Study struct {
		Found map[string]map[string][]int // sounds found of each person, by method and condition
		Leads map[string]float64
		Loss  struct {
			Pooled, P float64
			PerPerson float64 `json:"mean_over_people"`
		}
	}
}

func readCheckValues(t *testing.T) (v checkValues) {
	t.Helper()
	content, err := os.ReadFile("../testdata/eval/statistics.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(content, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

func TestWilcoxon(t *testing.T) {
	for _, v := range readCheckValues(t).Wilcoxon {
		got := wilcoxon(v.D)
		if got.Exact != v.Exact {
			t.Errorf("%s: exact %v, want %v", v.Name, got.Exact, v.Exact)
		}
		if !near(float64(got.W), v.W, 1e-9) || !near(float64(got.P), v.P, 1e-12) {
			t.Errorf("%s: W %v, p %v; want %v, %v", v.Name, got.W, got.P, v.W, v.P)
		}
	}
	if got := wilcoxon([]float64{0, 0}); !got.P.Null() || got.Zeros != 2 {
		t.Errorf("of zeros alone: %+v, want no p", got)
	}
	// 0.3−0.2 and 0.2−0.1 differ in the last digit, and tie.
	if a, b := wilcoxon([]float64{0.3 - 0.2, 0.1 - 0.2}), wilcoxon([]float64{1, -1}); a != b {
		t.Errorf("rounding breaks a tie: %+v, want %+v", a, b)
	}
}

func TestHolm(t *testing.T) {
	v := readCheckValues(t).Holm
	for i, got := range holm(v.P) {
		if !near(float64(got), float64(v.Adjusted[i]), 1e-15) {
			t.Errorf("p %v adjusts to %v, want %v", v.P[i], got, v.Adjusted[i])
		}
	}
	if got := holm([]Ratio{null(), 0.04}); !got[0].Null() || got[1] != 0.04 {
		t.Errorf("a missing p counts: %v", got)
	}
}

func TestWilson(t *testing.T) {
	for _, v := range readCheckValues(t).Wilson {
		low, high := wilson(int(v.K), int(v.N), 0.95)
		if !near(float64(low), v.Low, 1e-12) || !near(float64(high), v.High, 1e-12) {
			t.Errorf("%v of %v: %v to %v, want %v to %v", v.K, v.N, low, high, v.Low, v.High)
		}
	}
	// To five digits, from the literature notes of the project.
	for _, v := range []struct {
		n         int
		low, high float64
	}{{901, 0.97827, 0.99317}, {903, 0.97553, 0.99157}} {
		low, high := wilson(890, v.n, 0.95)
		if !near(float64(low), v.low, 5e-6) || !near(float64(high), v.high, 5e-6) {
			t.Errorf("890 of %d: %v to %v, want %v to %v", v.n, low, high, v.low, v.high)
		}
	}
	if low, high := wilson(0, 0, 0.95); !low.Null() || !high.Null() {
		t.Errorf("0 of 0: %v to %v, want none", low, high)
	}
}

// F1 from published recall and precision: 0.950 and 0.943 give 0.94649
// (Martins, Coimbra, Renna 2023), 0.947 and 0.937 give 0.94197. A million
// events bring the ratios to five digits.
func TestF1IsTheHarmonicMean(t *testing.T) {
	for _, v := range []struct{ recall, precision, f1 float64 }{{0.950, 0.943, 0.94649}, {0.947, 0.937, 0.94197}} {
		const tp = 1e8
		fn, fp := tp/v.recall-tp, tp/v.precision-tp
		if got := float64(F1(tp, int(fp), int(fn))); !near(got, v.f1, 5e-6) {
			t.Errorf("recall %v, precision %v: F1 %.6f, want %v", v.recall, v.precision, got, v.f1)
		}
	}
	if !F1(0, 0, 0).Null() || !Recall(0, 0).Null() || !Precision(0, 0).Null() || F1(0, 1, 0) != 0 {
		t.Error("a ratio without denominator is not null, or one with is")
	}
}

// Variance of the spatial test data A: Efron and Tibshirani 1993, table 14.2,
// from memory: θ = 171.5, a = 0.061, 90 % intervals from 2000 resamples:
// percentile 100.8 to 233.9, BCa 115.8 to 259.6. The ends of their 2000
// resamples are uncertain by some 4; those of SciPy's 800 000 by some 0.3.
func TestBCaOfPublishedExample(t *testing.T) {
	v := readCheckValues(t).Spatial
	c := &clusters{columns: 3}
	for _, x := range v.Data {
		c.sums = append(c.sums, 1, x, x*x)
	}
	variance := func(f, totals []float64) {
		mean := totals[1] / totals[0]
		f[0] = totals[2]/totals[0] - mean*mean
	}
	total := c.total()
	var estimate [1]float64
	variance(estimate[:], total)
	a := accelerations(jackknife(c, total, 1, variance), 1)[0]
	if !near(estimate[0], 171.5, 0.05) || !near(a, 0.061, 0.0005) {
		t.Errorf("θ %.3f, a %.4f; want 171.5, 0.061", estimate[0], a)
	}
	o := Options{Resamples: 400_000, Seed: 1}
	got := intervals(estimate[0], o.resample(c, 1, variance)[0], a, normalQuantile(0.95))
	for _, tt := range []struct {
		name      string
		got       Bounds
		want      []float64
		tolerance float64
	}{
		{"percentile, SciPy", got.Percentile, v.Percentile, 0.5},
		{"BCa, SciPy", got.BCa, v.BCa, 1},
		{"percentile, in print", got.Percentile, []float64{100.8, 233.9}, 4},
		{"BCa, in print", got.BCa, []float64{115.8, 259.6}, 5},
	} {
		for i := range tt.want {
			if !near(float64(tt.got[i]), tt.want[i], tt.tolerance) {
				t.Errorf("%s: %.2f, want %.2f within %v", tt.name, tt.got, tt.want, tt.tolerance)
			}
		}
	}
}

// Peak expiratory flow by two meters: Bland and Altman 1986, from memory, give
// a mean difference of −2.1 l/min and a standard deviation of 38.8 l/min, with
// limits of −79.7 and 75.5 l/min at two standard deviations, computed there from
// the rounded figures.
func TestLimitsOfAgreement(t *testing.T) {
	v := readCheckValues(t).Flow
	person := make([]int32, len(v.Difference))
	for i := range person {
		person[i] = int32(i)
	}
	o := Options{}.withDefaults()
	a := o.agreement("peak flow", "l/min", person, v.Difference)
	if !near(float64(a.Bias), v.Mean, 1e-12) || !near(float64(a.SD), v.SD, 1e-11) {
		t.Errorf("bias %v, SD %v; want %v, %v", a.Bias, a.SD, v.Mean, v.SD)
	}
	if !near(float64(a.Bias), -2.1, 0.05) || !near(float64(a.SD), 38.8, 0.05) {
		t.Errorf("bias %v, SD %v; in print −2.1, 38.8", a.Bias, a.SD)
	}
	if !near(float64(a.Bias-2*a.SD), -79.7, 0.15) || !near(float64(a.Bias+2*a.SD), 75.5, 0.15) {
		t.Errorf("two SD around: %v to %v; in print −79.7 to 75.5", a.Bias-2*a.SD, a.Bias+2*a.SD)
	}
	if !near(float64(a.Upper-a.Lower), 2*1.96*v.SD, 1e-9) {
		t.Errorf("limits %v to %v are not 1.96 SD around the bias", a.Lower, a.Upper)
	}
	// In print, by Student's distribution over 17 subjects, −22.0 to 17.8.
	if i := a.BiasInterval.BCa; !near(float64(i[0]), -22.0, 4) || !near(float64(i[1]), 17.8, 4) {
		t.Errorf("interval of the bias %v, in print −22.0 to 17.8", i)
	}
	for i, got := range []Bounds{a.Independent.Bias, a.Independent.Lower, a.Independent.Upper} {
		for end, want := range v.Intervals[i] {
			if !near(float64(got[end]), want, 1e-9) {
				t.Errorf("interval %d: %v, SciPy has %v", i, got, v.Intervals[i])
			}
		}
	}
	if i := a.LowerInterval.Percentile; !(i[0] < a.Lower && a.Lower < i[1]) {
		t.Errorf("interval %v of the lower limit %v", i, a.Lower)
	}
}

// The intervals of the papers. Peak flow, 17 subjects, Bland and Altman 1986 by two
// SD and s√(3/n), from memory: −114.3 to −45.1 around the lower and 40.9 to 110.1
// around the upper limit, which the later formula moves by 1.6. Systolic pressure
// by observer and machine, 85 subjects, Bland and Altman 1999, from memory: −61.9 to
// −47.5 and 14.9 to 29.4 around limits of −54.7 and 22.1.
func TestIntervalsOfLimitsInPrint(t *testing.T) {
	for _, v := range []struct {
		name             string
		n                int
		mean, sd         float64
		lower, upper     [2]float64
		bias             [2]float64
		tolerance, width float64
	}{
		{"1986", 17, -2.1, 38.8, [2]float64{-114.3, -45.1}, [2]float64{40.9, 110.1}, [2]float64{-22.0, 17.8}, 1.9, 0.1},
		{"1999", 85, -16.29, 19.61, [2]float64{-61.9, -47.5}, [2]float64{14.9, 29.4}, [2]float64{-20.5, -12.1}, 0.1, 0.1},
	} {
		got := agreementIntervals(v.n, v.mean, v.sd)
		for i := range 2 {
			if !near(float64(got.Lower[i]), v.lower[i], v.tolerance) || !near(float64(got.Upper[i]), v.upper[i], v.tolerance) {
				t.Errorf("%s: limits %.2f and %.2f, in print %v and %v", v.name, got.Lower, got.Upper, v.lower, v.upper)
			}
			if !near(float64(got.Bias[i]), v.bias[i], v.width) {
				t.Errorf("%s: bias %.2f, in print %v", v.name, got.Bias, v.bias)
			}
		}
	}
	if got := agreementIntervals(1, 3, math.NaN()); !got.Bias[0].Null() || !got.Upper[1].Null() {
		t.Errorf("intervals %v from one difference", got)
	}
}
