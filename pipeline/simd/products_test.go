package simd

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// productCase is a call of SumProducts.
type productCase struct {
	Products
	dst, start, a, b, bias []float32
	inPlace                bool // dst is start
	floor                  float32
}

// randomProducts draws a call, a with its strides in either order.
func randomProducts(r *rand.Rand) (p productCase) {
	p.Rows, p.Cols = r.IntN(14), 16*(1+r.IntN(3))
	p.Taps, p.Depth = r.IntN(4), r.IntN(40)
	p.NextRow, p.BNext = p.Cols+r.IntN(5), p.Cols+r.IntN(5)
	p.ANext, p.ANextRow = 1, p.Depth+r.IntN(5)
	if r.IntN(2) == 0 {
		p.ANext, p.ANextRow = p.Rows+r.IntN(5), 1
	}
	p.ANextTap = r.IntN(100)
	p.dst = noise32(r, p.Rows*p.NextRow+p.Cols)
	switch r.IntN(3) {
	case 0:
		p.start = noise32(r, len(p.dst))
	case 1:
		p.start, p.inPlace = p.dst, true
	}
	p.a = noise32(r, p.Rows*p.ANextRow+p.Taps*p.ANextTap+p.Depth*p.ANext)
	p.b = noise32(r, p.Taps*p.Depth*p.BNext+p.Cols)
	if r.IntN(3) > 0 {
		p.bias = noise32(r, p.Cols)
	}
	p.floor = float32(math.Inf(-1))
	if r.IntN(2) == 0 {
		p.floor = 0
	}
	return p
}

func noise32(r *rand.Rand, n int) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(r.NormFloat64() * math.Ldexp(1, r.IntN(20)-10))
	}
	return x
}

func (p *productCase) do() []float32 {
	dst, start := slices.Clone(p.dst), p.start
	if p.inPlace {
		start = dst
	}
	SumProducts(dst, start, p.a, p.b, p.bias, p.floor, &p.Products)
	return dst
}

// TestSumProductsIsTheSum compares with sums in float64, and expects everything
// outside the result to stay. A sum of n terms, each rounded twice, is off by no
// more than n+2 roundings of the sum of magnitudes.
func TestSumProductsIsTheSum(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	for range 300 {
		p := randomProducts(r)
		got := p.do()
		want := make([]float64, len(got))
		bound := make([]float64, len(got))
		for i, v := range p.dst {
			want[i] = float64(v)
		}
		for row := range p.Rows {
			for c := range p.Cols {
				at := row*p.NextRow + c
				var sum, size float64
				add := func(v float64) { sum, size = sum+v, size+math.Abs(v) }
				if p.start != nil {
					add(float64(p.start[at]))
				}
				if p.bias != nil {
					add(float64(p.bias[c]))
				}
				for j := range p.Taps {
					for k := range p.Depth {
						add(float64(p.a[row*p.ANextRow+j*p.ANextTap+k*p.ANext]) * float64(p.b[(j*p.Depth+k)*p.BNext+c]))
					}
				}
				want[at] = max(sum, float64(p.floor))
				bound[at] = float64(p.Taps*p.Depth+2) * 0x1p-24 * size
			}
		}
		for i, v := range got {
			if !(math.Abs(float64(v)-want[i]) <= bound[i]) {
				t.Fatalf("%+v: element %d is %v, want %v", p.Products, i, v, want[i])
			}
		}
	}
}

// TestSumProductsKeepsDamage: a sum that is not a number is not hidden by a floor.
func TestSumProductsKeepsDamage(t *testing.T) {
	p := Products{Rows: 5, Cols: 16, Taps: 1, Depth: 1, NextRow: 16, ANextRow: 1, BNext: 16}
	dst, a, b := make([]float32, 80), []float32{1, 1, 1, 1, float32(math.Inf(1))}, make([]float32, 16)
	SumProducts(dst, nil, a, b, nil, 0, &p)
	for i, v := range dst {
		if isNaN := v != v; isNaN != (i >= 64) {
			t.Errorf("element %d is %v", i, v)
		}
	}
}

func TestSumProductsBeyondItsOperandsPanics(t *testing.T) {
	fits := Products{Rows: 3, Cols: 16, Taps: 2, Depth: 5, NextRow: 16, ANextRow: 5, ANextTap: 15, ANext: 1, BNext: 16}
	do := func(dst, start, a, b, bias int, p Products) (panicked bool) {
		defer func() { panicked = recover() != nil }()
		x := make([]float32, 160)
		SumProducts(x[:dst], x[:start], x[:a], x[:b], x[:bias], 0, &p)
		return
	}
	if do(48, 48, 30, 160, 16, fits) {
		t.Fatal("panics though all fits")
	}
	for name, panicked := range map[string]bool{
		"dst":       do(47, 48, 30, 160, 16, fits),
		"start":     do(48, 47, 30, 160, 16, fits),
		"a":         do(48, 48, 29, 160, 16, fits),
		"b":         do(48, 48, 30, 159, 16, fits),
		"bias":      do(48, 48, 30, 160, 15, fits),
		"columns":   do(48, 48, 30, 160, 16, Products{Rows: 3, Cols: 8, Taps: 1, Depth: 1}),
		"backwards": do(48, 48, 30, 160, 16, Products{Rows: 3, Cols: 16, Taps: 1, Depth: 1, ANextRow: -1}),
	} {
		if !panicked {
			t.Errorf("%s: no panic", name)
		}
	}
}
