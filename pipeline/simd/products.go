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

// sum is SumProducts in portable Go. It takes eight columns at a time, whose sums
// stay in registers.
func (p *Products) sum(dst, start, a, b, bias []float32, floor float32) {
	for c := 0; c < p.Cols; c += 8 {
		for r := range p.Rows {
			at := r*p.NextRow + c
			s := *eight(start, at)
			for i, v := range eight(bias, c) {
				s[i] += v
			}
			p.sumEight(&s, a[min(r*p.ANextRow, len(a)):], b[min(c, len(b)):])
			for i, v := range s {
				if floor > v {
					s[i] = floor
				}
			}
			copy(dst[at:at+8], s[:])
		}
	}
}

func eight(x []float32, from int) *[8]float32 {
	if x == nil {
		return (*[8]float32)(zeros[:])
	}
	return (*[8]float32)(x[from:])
}

func (p *Products) sumEight(s *[8]float32, a, b []float32) {
	s0, s1, s2, s3, s4, s5, s6, s7 := s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7]
	at := 0
	for j := range p.Taps {
		from := j * p.ANextTap
		for range p.Depth {
			v, row := a[from], (*[8]float32)(b[at:])
			s0 += float32(v * row[0])
			s1 += float32(v * row[1])
			s2 += float32(v * row[2])
			s3 += float32(v * row[3])
			s4 += float32(v * row[4])
			s5 += float32(v * row[5])
			s6 += float32(v * row[6])
			s7 += float32(v * row[7])
			from += p.ANext
			at += p.BNext
		}
	}
	*s = [8]float32{s0, s1, s2, s3, s4, s5, s6, s7}
}
