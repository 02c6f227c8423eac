package simd

// Products says where the terms of the sums of [SumProducts] lie. All distances are
// numbers of elements.
type Products struct {
	Rows, Cols  int // of the result; Cols is a multiple of 16
	Taps, Depth int // a sum has Depth terms for each tap

	NextRow  int // in dst and start, from one row to the next
	ANextRow int // in a, from a term of one row to that of the next
	ANextTap int // in a, from the first term of one tap to that of the next
	ANext    int // in a, from one term to the next
	BNext    int // in b, from the columns of one term to those of the next
}

// SumProducts computes sums of matrix products:
//
//	for r := range p.Rows {
//		for c := range p.Cols {
//			sum := start[r*p.NextRow+c] + bias[c]
//			for j := range p.Taps {
//				for k := range p.Depth {
//					v := a[r*p.ANextRow+j*p.ANextTap+k*p.ANext]
//					sum += float32(v * b[(j*p.Depth+k)*p.BNext+c])
//				}
//			}
//			if floor > sum {
//				sum = floor
//			}
//			dst[r*p.NextRow+c] = sum
//		}
//	}
//
// With a row of dst for each instant, a row of a likewise, and the taps so many
// rows of a apart, this is a dilated convolution along time; with a floor of zero
// a rectifier follows it. With a term for each instant it is the gradient of the
// convolution by its weights. Products are rounded before they are added, since
// Go has no fused multiply-add of float32.
//
// A start or bias of nil is zero; start may be dst. SumProducts panics unless all
// hold the elements that this needs and no distance is negative. dst must overlap
// none of the others but for start.
func SumProducts(dst, start, a, b, bias []float32, floor float32, p *Products) {
	if p.Rows <= 0 || p.Cols <= 0 {
		return
	}
	p.check(dst, start, a, b, bias)
	if !vector || p.Taps*p.Depth == 0 {
		p.sum(dst, start, a, b, bias, floor)
		return
	}
	startNext := p.NextRow
	if start == nil {
		startNext = 0
	}
	whole := p.Rows &^ (productRows - 1)
	for c := 0; c < p.Cols; c += productCols {
		if whole > 0 {
			sumProductsAVX2(&dst[c], columns(start, c), startNext, &a[0], &b[c], columns(bias, c), floor, whole, p)
		}
		for r := whole; r < p.Rows; r++ { // the same row four times
			row := *p
			row.NextRow, row.ANextRow = 0, 0
			sumProductsAVX2(&dst[r*p.NextRow+c], columns(start, r*startNext+c), 0, &a[r*p.ANextRow], &b[c], columns(bias, c), floor, productRows, &row)
		}
	}
}

// productRows and productCols are the size of the part of the result whose sums
// the assembly holds in registers.
const (
	productRows = 4
	productCols = 16
)

var zeros [productCols]float32

// columns returns the sixteen elements of x from the given one, zeros if x is nil.
func columns(x []float32, from int) *[productCols]float32 {
	if x == nil {
		return &zeros
	}
	return (*[productCols]float32)(x[from:])
}

// sumProductsAVX2 computes the first 16 columns of the given number of rows, a
// multiple of four. The rows of start are startNext elements apart.
//
//go:noescape
func sumProductsAVX2(dst *float32, start *[productCols]float32, startNext int, a, b *float32, bias *[productCols]float32, floor float32, rows int, p *Products)

func (p *Products) check(dst, start, a, b, bias []float32) {
	terms, result := p.Taps*p.Depth, (p.Rows-1)*p.NextRow+p.Cols
	switch {
	case p.Cols%productCols != 0,
		min(p.Taps, p.Depth, p.NextRow, p.ANextRow, p.ANextTap, p.ANext, p.BNext) < 0,
		result > len(dst),
		start != nil && result > len(start),
		bias != nil && p.Cols > len(bias),
		terms > 0 && (p.Rows-1)*p.ANextRow+(p.Taps-1)*p.ANextTap+(p.Depth-1)*p.ANext >= len(a),
		terms > 0 && (terms-1)*p.BNext+p.Cols > len(b):
		panic("simd: products reach beyond their operands")
	}
}

// sum is SumProducts in portable Go. It takes two rows and four columns at a time,
// whose sums stay in registers; a last row alone is taken twice.
func (p *Products) sum(dst, start, a, b, bias []float32, floor float32) {
	for c := 0; c < p.Cols; c += 4 {
		for r := 0; r < p.Rows; r += 2 {
			second := min(r+1, p.Rows-1)
			at := [2]int{r*p.NextRow + c, second*p.NextRow + c}
			var s [2][4]float32
			for i := range s {
				if start != nil {
					copy(s[i][:], start[at[i]:])
				}
				for k, v := range columns(bias, c&^(productCols-1))[c%productCols:][:4] {
					s[i][k] += v
				}
			}
			if p.Taps*p.Depth > 0 {
				p.sumTile(&s, a[r*p.ANextRow:], a[second*p.ANextRow:], b[c:])
			}
			for i := range s {
				for k, v := range s[i] {
					if floor > v {
						v = floor
					}
					dst[at[i]+k] = v
				}
			}
		}
	}
}

// sumTile adds the terms of two rows of a and four columns of b to s.
func (p *Products) sumTile(s *[2][4]float32, upper, lower, b []float32) {
	s0, s1, s2, s3 := s[0][0], s[0][1], s[0][2], s[0][3]
	s4, s5, s6, s7 := s[1][0], s[1][1], s[1][2], s[1][3]
	next, row := p.ANext, p.BNext
	at := 0
	for j := range p.Taps {
		from := j * p.ANextTap
		for range p.Depth {
			v, w, four := upper[from], lower[from], (*[4]float32)(b[at:])
			b0, b1, b2, b3 := four[0], four[1], four[2], four[3]
			s0 += float32(v * b0)
			s1 += float32(v * b1)
			s2 += float32(v * b2)
			s3 += float32(v * b3)
			s4 += float32(w * b0)
			s5 += float32(w * b1)
			s6 += float32(w * b2)
			s7 += float32(w * b3)
			from += next
			at += row
		}
	}
	*s = [2][4]float32{{s0, s1, s2, s3}, {s4, s5, s6, s7}}
}
