package features

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func TestTemplateMatchesCountEveryPair(t *testing.T) {
	var m templateMatcher
	rng := rand.New(rand.NewPCG(11, 12))
	for trial := range 400 {
		x := make([]float64, rng.IntN(200))
		for i := range x {
			switch trial % 4 {
			case 0: // differences of r itself
				x[i] = float64(rng.IntN(6))
			case 1:
				x[i] = math.Exp(3 * rng.NormFloat64())
			case 2:
				x[i] = math.Sin(0.3*float64(i)) + 0.1*rng.NormFloat64()
			}
		}
		if trial%7 == 0 && len(x) > 0 {
			x[rng.IntN(len(x))] = math.NaN()
		}
		r := float64(trial % 3)
		near := func(a, b float64) bool { return math.Abs(a-b) <= r }
		var two, three int
		for i := 0; i+2 < len(x); i++ {
			for j := i + 1; j+2 < len(x); j++ {
				if near(x[i], x[j]) && near(x[i+1], x[j+1]) {
					two++
					if near(x[i+2], x[j+2]) {
						three++
					}
				}
			}
		}
		if a, b := m.templateMatches(x, r); a != two || b != three {
			t.Fatalf("trial %d, %d values: %d and %d, want %d and %d", trial, len(x), a, b, two, three)
		}
	}
}

// Differences of r and of a rounding more or less, of values so great that their
// differences overflow, so small that they underflow, and among which some are
// far from the others.
func TestTemplateMatchesDecideTheNarrowestCases(t *testing.T) {
	var m templateMatcher
	rng := rand.New(rand.NewPCG(13, 14))
	for trial := range 3000 {
		scale := []float64{1, 0.1, 1e-9, 1e-300, 5e-324, 1e-310, 1e300, 2e307, 1.7e308}[trial%9]
		x := make([]float64, 4+rng.IntN(1+rng.IntN(90)))
		spread := 1 + rng.IntN(1<<rng.IntN(15))
		for i := range x {
			x[i] = scale * float64(rng.IntN(4)*spread)
			if scale > 1e300 {
				x[i] = scale * float64(rng.IntN(3)-1)
			}
			for range rng.IntN(3) {
				x[i] = math.Nextafter(x[i], scale*float64(rng.IntN(3)-1))
			}
		}
		if trial%5 == 0 {
			x[rng.IntN(len(x))] *= 100
		}
		if trial%11 == 0 {
			x[rng.IntN(len(x))] = math.Inf(rng.IntN(2) - 1)
		}
		r := scale * float64(spread)
		switch rng.IntN(4) {
		case 1:
			r = 0
		case 2:
			r = math.Nextafter(r, 0)
		case 3:
			r = scale * rng.Float64()
		}
		two, three := templateMatchesPortable(x, r)
		if a, b := m.templateMatches(x, r); a != two || b != three {
			t.Fatalf("trial %d, r = %g: %d and %d, want %d and %d of %g", trial, r, a, b, two, three, x)
		}
	}
}

// The counts of a constant, which are as great as they can be.
func TestTemplateMatchesOfAConstant(t *testing.T) {
	var m templateMatcher
	for _, n := range []int{3, 4, 20, 1000, 32_767, 32_768} {
		want := (n - 2) * (n - 3) / 2
		if two, three := m.templateMatches(make([]float64, n), 0); two != want || three != want {
			t.Errorf("%d values: %d and %d, want %d", n, two, three, want)
		}
	}
}

func BenchmarkTemplateMatches(b *testing.B) {
	for _, n := range []int{100, 400} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			x := make([]float64, n)
			for i := range x {
				x[i] = math.Sin(0.3 * float64(i*i))
			}
			var m templateMatcher
			for b.Loop() {
				m.templateMatches(x, 0.2)
			}
		})
	}
}
