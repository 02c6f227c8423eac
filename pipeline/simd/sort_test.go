package simd

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestSortSortsEachSequence(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 18))
	for n := range 140 {
		x := make([]float64, Width*n)
		var want [Width][]float64
		for i := range x {
			x[i] = math.Round(r.NormFloat64() * float64(n))
			if i%17 == 0 {
				x[i] = math.Inf(r.IntN(3) - 1)
			}
			want[i%Width] = append(want[i%Width], x[i])
		}
		Sort(x)
		for l, sequence := range want {
			slices.Sort(sequence)
			for i, v := range sequence {
				if x[Width*i+l] != v {
					t.Fatalf("%d numbers: number %d of sequence %d is %v, want %v", n, i, l, x[Width*i+l], v)
				}
			}
		}
	}
}

func BenchmarkSort(b *testing.B) {
	x, y := make([]float64, Width*43), make([]float64, Width*43)
	for i := range x {
		x[i] = math.Sin(float64(i * i))
	}
	for b.Loop() {
		copy(y, x)
		Sort(y)
	}
}
