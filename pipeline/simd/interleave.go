package simd

// Interleave interleaves four rows:
//
//	for l := range 4 {
//		for i := range n {
//			dst[4*i+l] = rows[l][i]
//		}
//	}
//
// It panics unless the rows have one length n and dst has room for 4n values.
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

// interleavePortable interleaves the elements from index from on.
func interleavePortable(dst []float64, rows *[Width][]float64, from int) {
	for l, row := range rows {
		for i := from; i < len(row); i++ {
			dst[Width*i+l] = row[i]
		}
	}
}
