//go:build !purego

package features

import (
	"math/rand/v2"
	"testing"
)

func TestAssemblyAgreesOnTemplateMatches(t *testing.T) {
	if !hasAVX2 {
		t.Skip("this processor has no AVX2: nothing to compare")
	}
	r := rand.New(rand.NewPCG(7, 8))
	var m templateMatcher
	for n := range 150 {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		two, three := m.templateMatches(x, 0.5)
		hasAVX2 = false
		a, b := m.templateMatches(x, 0.5)
		hasAVX2 = true
		if two != a || three != b {
			t.Fatalf("%d values: %d and %d by assembly, %d and %d in Go", n, two, three, a, b)
		}
	}
}
