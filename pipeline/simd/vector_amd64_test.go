//go:build !purego

package simd

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// bothWays runs f with the assembly and with portable Go and expects the same bits.
func bothWays(t *testing.T, what string, f func() []float64) {
	t.Helper()
	if !vector {
		t.Skip("this processor has no AVX2 and FMA: nothing to compare")
	}
	defer func() { vector = true }()
	fast := slices.Clone(f())
	vector = false
	plain := f()
	vector = true
	for i := range plain {
		if math.Float64bits(fast[i]) != math.Float64bits(plain[i]) {
			t.Fatalf("%s: value %d is %v (%x) by assembly and %v (%x) in Go", what, i,
				fast[i], math.Float64bits(fast[i]), plain[i], math.Float64bits(plain[i]))
		}
	}
}

func noise(r *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64() * math.Ldexp(1, r.IntN(40)-20)
	}
	return x
}

func TestAssemblyAgreesOnSums(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 70 {
		a, b := noise(r, n), noise(r, n+3)
		bothWays(t, "Dot", func() []float64 { return []float64{Dot(a, b)} })
		bothWays(t, "Sum", func() []float64 { return []float64{Sum(a)} })
		bothWays(t, "Moments", func() []float64 { x, y, z := Moments(a, 0.25); return []float64{x, y, z} })
		bothWays(t, "SubMul", func() []float64 { d := make([]float64, n); SubMul(d, a, b, 0.25); return d })
		bothWays(t, "Magnitude", func() []float64 { d := make([]float64, n); Magnitude(d, a, b); return d })
		rows, side := [4][]float64{a, b[:n], noise(r, n), noise(r, n)}, make([]float64, 4*n)
		bothWays(t, "Interleave", func() []float64 { Interleave(side, &rows); return side })
		for _, backwards := range []bool{false, true} {
			sections := [2]Section{{[3]float64{0.3, -0.2, 0.1}, [2]float64{-1.2, 0.5}}, {[3]float64{1, 2, 1}, [2]float64{0.1, 0.7}}}
			bothWays(t, "Cascade", func() []float64 {
				states := [2]State{{{1, 2, 3, 4}, {5, 6, 7, 8}}, {{4, 3, 2, 1}, {-1, -2, -3, 0.1}}}
				y := slices.Clone(side)
				Cascade(y, &sections, &states, backwards)
				return slices.Concat(y, states[0][0][:], states[0][1][:], states[1][0][:], states[1][1][:])
			})
		}
		for _, k := range []int{1, 4, 20} {
			for _, spacing := range []int{1, 2, 8} {
				x, taps, dst := noise(r, n+(k-1)*spacing), noise(r, k), make([]float64, n)
				bothWays(t, "Correlate", func() []float64 { Correlate(dst, x, taps, spacing); return dst })
			}
		}
		for _, k := range []int{1, 6, 14} {
			h, x, dst := NewHalfBand(0.5, noise(r, k)), noise(r, 2*n), make([]float64, n)
			bothWays(t, "HalfBand", func() []float64 { h.Filter(dst, x, 0); return dst })
		}
		for _, k := range []int{4, 8, 64} {
			for _, step := range []int{1, 2, 4, 9} {
				x, taps, dst := noise(r, max(n-1, 0)*step+k), noise(r, k), make([]float64, n)
				bothWays(t, "Decimate", func() []float64 { Decimate(dst, x, taps, step); return dst })
			}
		}
	}
}

func TestAssemblyAgreesOnLogarithms(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, 4001)
	for i := range x {
		x[i] = math.Float64frombits(r.Uint64() >> 1)
	}
	dst := make([]float64, len(x))
	bothWays(t, "Log", func() []float64 { Log(dst, x); return dst })
}

func TestAssemblyAgreesOnExponentials(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 18))
	x := make([]float64, 4001)
	for i := range x {
		x[i] = 1500 * (r.Float64() - 0.5)
	}
	dst := make([]float64, len(x))
	bothWays(t, "Exp", func() []float64 { Exp(dst, x); return dst })
}

func TestAssemblyAgreesOnTransforms(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, n := range []int{1, 2, 3, 4, 6, 8, 12, 16, 24, 48, 64, 96, 512, 1024, 3072, 4096} {
		re, im := noise(r, 4*n), noise(r, 4*n)
		f := NewFFT(n)
		bothWays(t, "FFT", func() []float64 {
			y := f.Transform(Block{slices.Clone(re), slices.Clone(im)}, NewBlock(n))
			return slices.Concat(y.Re, y.Im)
		})
	}
}

func TestAssemblyAgreesOnPowers(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	for _, n := range []int{2, 4, 6, 8, 12, 16, 24, 96, 384, 512, 768, 1024, 2048} {
		f, re, im := NewFFT(n), noise(r, 4*n), noise(r, 4*n)
		var dst [8][]float64
		var scale [8]float64
		for s := range dst {
			dst[s], scale[s] = make([]float64, n/2+1), r.Float64()
		}
		for _, length := range []int{n, n / 2, n/2 - 1, 1} {
			bothWays(t, "RealPowers", func() []float64 {
				f.RealPowers(&dst, Block{slices.Clone(re), slices.Clone(im)}, f.NewWork(), length, &scale)
				return slices.Concat(dst[:]...)
			})
		}
	}
}

func TestAssemblyAgreesOnHilbertTransforms(t *testing.T) {
	r := rand.New(rand.NewPCG(19, 20))
	for _, n := range []int{8, 16, 24, 64, 96, 128, 192, 8192, 24576} {
		h, re, im := NewHilbert(n), noise(r, n/2), noise(r, n/2)
		bothWays(t, "Hilbert", func() []float64 {
			y := h.Transform(Block{slices.Clone(re), slices.Clone(im)}, NewBlock(n/8))
			return slices.Concat(y.Re, y.Im)
		})
	}
}

func TestAssemblyAgreesOnSorts(t *testing.T) {
	r := rand.New(rand.NewPCG(19, 20))
	for n := range 70 {
		x := noise(r, Width*n)
		for i := range n {
			x[r.IntN(len(x))] = math.Copysign(0, float64(i%2)-0.5)
		}
		bothWays(t, "Sort", func() []float64 { y := slices.Clone(x); Sort(y); return y })
	}
}

func TestAssemblyAgreesOnMinMax(t *testing.T) {
	r := rand.New(rand.NewPCG(25, 26))
	for n := range 70 {
		x := noise(r, n)
		bothWays(t, "MinMax", func() []float64 {
			low, high := MinMax(x)
			return []float64{low, high}
		})
	}
}

func TestAssemblyAgreesOnProducts(t *testing.T) {
	r := rand.New(rand.NewPCG(33, 34))
	for range 500 {
		p := randomProducts(r)
		bothWays(t, "SumProducts", func() []float64 {
			var wide []float64
			for _, v := range p.do() {
				wide = append(wide, float64(v))
			}
			return wide
		})
	}
}
