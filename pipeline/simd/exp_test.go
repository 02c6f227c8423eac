package simd

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// TestExpIsRightToAUnit compares with the exponential in 200 bits.
func TestExpIsRightToAUnit(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	x := []float64{0, math.Copysign(0, -1), 1, -1, math.Ln2, math.Ln2 / 2, -math.Ln2 / 2, 1e-300, 707.999, -707.999}
	for range 3000 {
		x = append(x, r.NormFloat64(), 1416*(r.Float64()-0.5), math.Ldexp(r.NormFloat64(), -r.IntN(60)))
	}
	dst := make([]float64, len(x))
	Exp(dst, x)
	worst := 0.0
	for i, v := range x {
		want := preciseExp(v)
		nearest, _ := want.Float64()
		diff, _ := new(big.Float).Sub(want, big.NewFloat(dst[i])).Float64()
		worst = max(worst, math.Abs(diff)/(math.Nextafter(nearest, math.Inf(1))-nearest))
	}
	if worst >= 1 {
		t.Errorf("exponentials err by up to %.3f units in the last place, want less than 1", worst)
	}
	t.Logf("greatest error %.3f units in the last place", worst)
}

// preciseExp returns the exponential of v by its series, of a small part of v that
// is squared as often as it was halved.
func preciseExp(v float64) *big.Float {
	const halvings = 12
	part := new(big.Float).SetPrec(200).SetFloat64(math.Ldexp(v, -halvings))
	sum, term := new(big.Float).SetPrec(200).SetInt64(1), new(big.Float).SetPrec(200).SetInt64(1)
	for k := int64(1); k < 40; k++ {
		term.Mul(term, part)
		term.Quo(term, new(big.Float).SetInt64(k))
		sum.Add(sum, term)
	}
	for range halvings {
		sum.Mul(sum, sum)
	}
	return sum
}

func TestExpBeyondTheOrdinary(t *testing.T) {
	x := []float64{1, 2, 3, math.NaN(), 4, math.Inf(1), math.Inf(-1), 709, -709, -745, -746, 710, 5, -708, 708}
	dst := make([]float64, len(x))
	Exp(dst, x)
	for i, v := range x {
		want := math.Exp(v)
		if math.Abs(dst[i]-want) > 1e-15*want || math.IsNaN(want) != math.IsNaN(dst[i]) || (want == 0) != (dst[i] == 0) {
			t.Errorf("exp %v = %v, want %v", v, dst[i], want)
		}
	}
}
