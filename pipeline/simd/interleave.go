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
	done := 0
	if whole := n &^ (Width - 1); vector && whole > 0 {
		interleaveAVX2(&dst[0], &rows[0][0], &rows[1][0], &rows[2][0], &rows[3][0], whole)
		done = whole
	}
	for l, row := range rows {
		for i := done; i < len(row); i++ {
			dst[Width*i+l] = row[i]
		}
	}
}

// interleaveAVX2 takes n values of each row, a multiple of four.
//
//go:noescape
func interleaveAVX2(dst, a, b, c, d *float64, n int)
