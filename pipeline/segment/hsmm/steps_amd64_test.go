//go:build !purego

package hsmm

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The assembly has the bits of the portable version.
func TestAssemblyAgrees(t *testing.T) {
	if !vector {
		t.Skip("this processor has no AVX2 and FMA: nothing to compare")
	}
	defer func() { vector = true }()
	compare := func(what string, f func() []float64) {
		t.Helper()
		vector = true
		fast := f()
		vector = false
		for i, v := range f() {
			if math.Float64bits(fast[i]) != math.Float64bits(v) {
				t.Fatalf("%s: value %d is %v by assembly and %v in Go", what, i, fast[i], v)
			}
		}
	}
	for _, lengths := range [][4]int{{1, 2, 3, 4}, {8, 9, 7, 40}} {
		for _, frames := range []int{1, 2, 29, 30} {
			compare("forwardStep", func() []float64 {
				states, entered := exampleStates(rand.New(rand.NewPCG(11, 12)), lengths, frames)
				forwardStep(&states, frames)
				return slices.Concat(entered[:]...)
			})
		}
	}
	for sojourns := 1; sojourns < 12; sojourns++ {
		for shortest := 1; shortest < 4; shortest++ {
			compare("viterbiStep", func() []float64 {
				v := exampleTables(rand.New(rand.NewPCG(21, 22)), shortest, sojourns, 40)
				viterbiStep(v, 40)
				return v.entered
			})
		}
	}
}
