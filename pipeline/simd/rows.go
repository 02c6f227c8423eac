package simd

import "math"

// Weigh writes weights[i]·(x[i] − offset) to dst[i]. It panics if dst or weights
// is shorter than x. dst may be x or weights.
func Weigh(dst, x, weights []float64, offset float64) {
	weigh(dst[:len(x)], x, weights[:len(x)], offset)
}

func weighPortable(dst, x, weights []float64, offset float64) {
	for i, v := range x {
		dst[i] = weights[i] * (v - offset)
	}
}

// Interleave lays four rows side by side: dst[4i + l] = rows[l][i]. It panics
// unless the rows are of one length and dst has room for them.
func Interleave(dst []float64, rows *[Width][]float64) {
	n := len(rows[0])
	dst = dst[:Width*n]
	for _, row := range rows {
		if len(row) != n {
			panic("simd: rows of different lengths")
		}
	}
	interleave(dst, rows)
}

// interleavePortable lays the elements from from on side by side.
func interleavePortable(dst []float64, rows *[Width][]float64, from int) {
	for l, row := range rows {
		for i := from; i < len(row); i++ {
			dst[Width*i+l] = row[i]
		}
	}
}

// Separate undoes Interleave: rows[l][i] = src[4i + l]. It panics unless the rows
// are of one length and src fills them.
func Separate(rows *[Width][]float64, src []float64) {
	n := len(rows[0])
	src = src[:Width*n]
	for _, row := range rows {
		if len(row) != n {
			panic("simd: rows of different lengths")
		}
	}
	separate(rows, src)
}

// separatePortable takes apart the elements from from on.
func separatePortable(rows *[Width][]float64, src []float64, from int) {
	for l, row := range rows {
		for i := from; i < len(row); i++ {
			row[i] = src[Width*i+l]
		}
	}
}

// Unzip writes x[2i] to even[i] and x[2i + 1] to odd[i]. It panics unless both are
// half as long as x.
func Unzip(even, odd, x []float64) {
	if len(x) != 2*len(even) || len(odd) != len(even) {
		panic("simd: halves of another length than half the whole")
	}
	unzip(even, odd, x)
}

func unzipPortable(even, odd, x []float64) {
	for i := range even {
		even[i], odd[i] = x[2*i], x[2*i+1]
	}
}

// Zip undoes Unzip.
func Zip(x, even, odd []float64) {
	if len(x) != 2*len(even) || len(odd) != len(even) {
		panic("simd: halves of another length than half the whole")
	}
	zip(x, even, odd)
}

func zipPortable(x, even, odd []float64) {
	for i := range even {
		x[2*i], x[2*i+1] = even[i], odd[i]
	}
}

// Magnitude writes √(a[i]² + b[i]²) to dst[i], which may be a or b. Squares beyond
// the range of a float64 are not looked after. It panics unless all three are of
// one length.
func Magnitude(dst, a, b []float64) {
	if len(a) != len(dst) || len(b) != len(dst) {
		panic("simd: magnitudes of sequences of different lengths")
	}
	magnitudes(dst, a, b)
}

func magnitudesPortable(dst, a, b []float64) {
	for i, v := range a {
		dst[i] = math.Sqrt(square(v, b[i]))
	}
}
