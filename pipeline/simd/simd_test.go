package simd

import (
	"math"
	"math/big"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestDotIsTheSumOfProducts(t *testing.T) {
	// Whole numbers, whose sums are exact in any order.
	for n := range 100 {
		a, b := make([]float64, n), make([]float64, n)
		want := 0.0
		for i := range a {
			a[i], b[i] = float64(i+1), float64(7-i%5)
			want += a[i] * b[i]
		}
		if got := Dot(a, b); got != want {
			t.Errorf("Dot of %d values = %v, want %v", n, got, want)
		}
	}
}

func TestRows(t *testing.T) {
	for n := range 50 {
		var rows [Width][]float64
		x, weights, dst := make([]float64, n), make([]float64, n), make([]float64, n)
		sum := 0.0
		for i := range n {
			for l := range rows {
				rows[l] = append(rows[l], float64(10*i+l))
			}
			x[i], weights[i] = float64(i*i), float64(3-i)
			sum += x[i]
		}
		if got := Sum(x); got != sum {
			t.Errorf("sum of %d values %v, want %v", n, got, sum)
		}
		SubMul(dst, x, weights, 2)
		interleaved := make([]float64, Width*n)
		Interleave(interleaved, &rows)
		for i := range n {
			if want := float64((3 - i) * (i*i - 2)); dst[i] != want {
				t.Errorf("product %d of %d: %v, want %v", i, n, dst[i], want)
			}
			for l := range rows {
				if interleaved[Width*i+l] != rows[l][i] {
					t.Errorf("value %d of row %d of %d is in the wrong place", i, l, n)
				}
			}
		}
	}
}

// TestCascadeIsTheRecursion compares with the difference equations of the two
// sections, in both directions.
func TestCascadeIsTheRecursion(t *testing.T) {
	sections := [2]Section{{[3]float64{0.3, -0.2, 0.1}, [2]float64{-1.2, 0.5}}, {[3]float64{1, 2, 1}, [2]float64{0.1, 0.7}}}
	r := rand.New(rand.NewPCG(17, 18))
	const n = 50
	var rows, got [Width][]float64
	for l := range rows {
		rows[l], got[l] = make([]float64, n), make([]float64, n)
		for i := range n {
			rows[l][i] = r.NormFloat64()
		}
	}
	for _, backwards := range []bool{false, true} {
		side := make([]float64, Width*n)
		Interleave(side, &rows)
		var states [2]State
		Cascade(side, &sections, &states, backwards)
		for i, v := range side {
			got[i%Width][i/Width] = v
		}
		for l := range rows {
			want := slices.Clone(rows[l])
			if backwards {
				slices.Reverse(want)
			}
			for _, s := range sections {
				x := slices.Clone(want)
				before := func(of []float64, i int) float64 {
					if i < 0 {
						return 0
					}
					return of[i]
				}
				for i := range want {
					want[i] = s.B[0]*x[i] + s.B[1]*before(x, i-1) + s.B[2]*before(x, i-2) - s.A[0]*before(want, i-1) - s.A[1]*before(want, i-2)
				}
			}
			if backwards {
				slices.Reverse(want)
			}
			for i := range want {
				if math.Abs(got[l][i]-want[i]) > 1e-13 {
					t.Fatalf("backwards %v, sequence %d, value %d: %v, want %v", backwards, l, i, got[l][i], want[i])
				}
			}
		}
	}
}

func TestFiltersAreSumsOfProducts(t *testing.T) {
	x, taps := make([]float64, 400), []float64{3, -1, 4, 1, -5, 9, 2, -6}
	for i := range x {
		x[i] = float64(i*i%101 - 50)
	}
	for n := range 40 {
		for spacing := 1; spacing < 6; spacing++ {
			correlated, decimated := make([]float64, n), make([]float64, n)
			Correlate(correlated, x, taps, spacing)
			Decimate(decimated, x, taps, spacing)
			for i := range n {
				var c, d float64
				for k, h := range taps {
					c += h * x[i+k*spacing]
					d += h * x[i*spacing+k]
				}
				if correlated[i] != c || decimated[i] != d {
					t.Fatalf("value %d of %d, spacing or step %d: %v and %v, want %v and %v", i, n, spacing, correlated[i], decimated[i], c, d)
				}
			}
		}
	}
}

func TestReachingBeyondTheSignalPanics(t *testing.T) {
	for name, f := range map[string]func(){
		"Dot":               func() { Dot(make([]float64, 3), make([]float64, 2)) },
		"Correlate":         func() { Correlate(make([]float64, 3), make([]float64, 5), make([]float64, 2), 3) },
		"Decimate":          func() { Decimate(make([]float64, 3), make([]float64, 11), make([]float64, 4), 4) },
		"Decimate, taps":    func() { Decimate(make([]float64, 3), make([]float64, 50), make([]float64, 5), 1) },
		"Transform":         func() { NewFFT(8).Transform(NewBlock(8), NewBlock(4)) },
		"NewFFT":            func() { NewFFT(20) },
		"NewFFT of none":    func() { NewFFT(0) },
		"RealPowers":        func() { NewFFT(8).RealPowers(new([8][]float64), NewBlock(8), NewBlock(8), 8, new([8]float64)) },
		"Magnitude":         func() { Magnitude(make([]float64, 2), make([]float64, 2), make([]float64, 1)) },
		"SubMul":            func() { SubMul(make([]float64, 3), make([]float64, 3), make([]float64, 2), 0) },
		"Interleave":        func() { Interleave(make([]float64, 8), &[4][]float64{{1}, {2}, {3}, nil}) },
		"NewHilbert":        func() { NewHilbert(12) },
		"Log":               func() { Log(make([]float64, 1), []float64{1, 2}) },
		"MaxAbsInterleaved": func() { MaxAbsInterleaved(make([]float64, 6)) },
		"Exp":               func() { Exp(make([]float64, 1), []float64{1, 2}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s did not panic", name)
				}
			}()
			f()
		}()
	}
}

// TestLogIsRightToAUnit compares with the logarithm in 200 bits: of mantissas at
// 1 and over the whole range, and of every exponent.
func TestLogIsRightToAUnit(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	var x []float64
	for range 3000 {
		x = append(x, 1+r.NormFloat64()*math.Ldexp(1, -r.IntN(52)), r.ExpFloat64(), 0.5+1.5*r.Float64())
	}
	for e := -1022; e < 1024; e++ {
		x = append(x, math.Ldexp(1+r.Float64(), e))
	}
	x = append(x, math.MaxFloat64, 0x1p-1022, 1, math.Sqrt2/2, math.Nextafter(math.Sqrt2/2, 0))
	dst := make([]float64, len(x))
	Log(dst, x)
	worst := 0.0
	for i, v := range x {
		if !(v > 0) {
			continue
		}
		want := preciseLog(v)
		nearest, _ := want.Float64()
		unit := math.Nextafter(math.Abs(nearest), math.Inf(1)) - math.Abs(nearest)
		diff, _ := new(big.Float).Sub(want, big.NewFloat(dst[i])).Float64()
		if nearest == 0 {
			if dst[i] != 0 {
				t.Errorf("ln %v = %v", v, dst[i])
			}
			continue
		}
		worst = max(worst, math.Abs(diff)/unit)
	}
	if worst >= 1 {
		t.Errorf("logarithms err by up to %.3f units in the last place, want less than 1", worst)
	}
	t.Logf("greatest error %.3f units in the last place", worst)
}

// preciseLog returns ln v by the series of artanh after v is brought near one by
// a power of two.
func preciseLog(v float64) *big.Float {
	const bits = 200
	frac, e := math.Frexp(v)
	sum := artanhLog(new(big.Float).SetPrec(bits).SetFloat64(frac))
	ln2 := artanhLog(new(big.Float).SetPrec(bits).SetFloat64(2))
	return sum.Add(sum, ln2.Mul(ln2, new(big.Float).SetPrec(bits).SetInt64(int64(e))))
}

func artanhLog(m *big.Float) *big.Float {
	one := new(big.Float).SetPrec(m.Prec()).SetInt64(1)
	s := new(big.Float).SetPrec(m.Prec()).Quo(new(big.Float).Sub(m, one), new(big.Float).Add(m, one))
	z := new(big.Float).SetPrec(m.Prec()).Mul(s, s)
	sum, power := new(big.Float).SetPrec(m.Prec()), new(big.Float).SetPrec(m.Prec()).Set(s)
	for k := int64(1); k < 160; k += 2 {
		term := new(big.Float).SetPrec(m.Prec()).Quo(power, new(big.Float).SetPrec(m.Prec()).SetInt64(k))
		sum.Add(sum, term)
		power.Mul(power, z)
	}
	return sum.Mul(sum, new(big.Float).SetInt64(2))
}

func TestLogOfWhatIsNotPositiveAndNormal(t *testing.T) {
	x := []float64{1, 2, 0, 3, math.Inf(1), -1, math.NaN(), 0x1p-1060, 4, 5, 6, 7, 8, math.Copysign(0, -1)}
	dst := make([]float64, len(x))
	Log(dst, x)
	for i, v := range x {
		if want := math.Log(v); math.Abs(dst[i]-want) > 1e-15*math.Abs(want) || math.IsNaN(want) != math.IsNaN(dst[i]) || math.IsInf(want, 0) && dst[i] != want {
			t.Errorf("ln %v = %v, want %v", v, dst[i], want)
		}
	}
}

// TestTransformIsTheSum compares with the defining sum.
func TestTransformIsTheSum(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for _, n := range []int{1, 2, 3, 4, 6, 8, 12, 24, 32, 48, 256, 384, 512, 768, 2048} {
		x := NewBlock(n)
		for i := range x.Re {
			x.Re[i], x.Im[i] = r.NormFloat64(), r.NormFloat64()
		}
		want := NewBlock(n)
		for l := range Width {
			for k := range n {
				var sum complex128
				for i := range n {
					at := Width*i + l
					sum += complex(x.Re[at], x.Im[at]) * cmplx.Exp(complex(0, -2*math.Pi*float64(k*i%n)/float64(n)))
				}
				want.Re[Width*k+l], want.Im[Width*k+l] = real(sum), imag(sum)
			}
		}
		got := NewFFT(n).Transform(x, NewBlock(n))
		for i := range got.Re {
			if d := math.Hypot(got.Re[i]-want.Re[i], got.Im[i]-want.Im[i]); d > 1e-13*float64(n) {
				t.Fatalf("%d points, value %d: %v, want %v", n, i, complex(got.Re[i], got.Im[i]), complex(want.Re[i], want.Im[i]))
			}
		}
	}
}

func TestSwappedTwiceIsTheInverse(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	const n = 96
	x, keep := NewBlock(n), NewBlock(n)
	for i := range x.Re {
		x.Re[i], x.Im[i] = r.NormFloat64(), r.NormFloat64()
	}
	copy(keep.Re, x.Re)
	copy(keep.Im, x.Im)
	forward := NewFFT(n).Transform(x, NewBlock(n))
	back := NewFFT(n).Transform(forward.swapped(), NewBlock(n)).swapped()
	for i := range keep.Re {
		if math.Abs(back.Re[i]/n-keep.Re[i]) > 1e-14 || math.Abs(back.Im[i]/n-keep.Im[i]) > 1e-14 {
			t.Fatalf("value %d: %v, want %v", i, complex(back.Re[i]/n, back.Im[i]/n), complex(keep.Re[i], keep.Im[i]))
		}
	}
}

func TestTwiddlesLieOnTheCircle(t *testing.T) {
	for _, n := range []int{1, 2, 3, 4, 5, 8, 12, 1000} {
		for k := range n + 1 {
			re, im := twiddle(k, n)
			want := cmplx.Exp(complex(0, -2*math.Pi*float64(k)/float64(n)))
			if cmplx.Abs(complex(re, im)-want) > 2e-15 { // the angle of want is rounded
				t.Errorf("twiddle %d/%d = %v, want %v", k, n, complex(re, im), want)
			}
		}
	}
}

// TestRealPowersAreThoseOfTheSequences compares with the transform of each of the
// eight alone.
func TestRealPowersAreThoseOfTheSequences(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for _, n := range []int{2, 4, 6, 8, 64, 96, 384, 512, 768, 1024, 2048} {
		for _, length := range []int{n, n / 2, n/2 - 1, 1} {
			f, x, single := NewFFT(n), NewBlock(n), NewBlock(n)
			for i := range x.Re {
				x.Re[i], x.Im[i] = r.NormFloat64(), r.NormFloat64()
			}
			var want, got [8][]float64
			var scale [8]float64
			for s := range want {
				scale[s] = float64(s + 1)
				from := x.Re
				if s >= Width {
					from = x.Im
				}
				clear(single.Re)
				clear(single.Im)
				for i := range length {
					single.Re[Width*i] = from[Width*i+s%Width]
				}
				y := f.Transform(single, NewBlock(n))
				for k := range n/2 + 1 {
					a, b := y.Re[Width*k], y.Im[Width*k]
					want[s] = append(want[s], scale[s]*(a*a+b*b))
				}
				got[s] = make([]float64, n/2+1)
			}
			f.RealPowers(&got, x, f.NewWork(), length, &scale)
			for s := range want {
				for k := range want[s] {
					if d := math.Abs(got[s][k] - want[s][k]); !(d <= 1e-13*float64(n)*(1+want[s][k])) {
						t.Errorf("%d of %d points, sequence %d, bin %d: %v, want %v", length, n, s, k, got[s][k], want[s][k])
					}
				}
			}
		}
	}
}
