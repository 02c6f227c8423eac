package simd

// Product says where the terms of the sums of [AddProduct] lie. All distances are
// numbers of elements.
type Product struct {
	Rows, Cols  int // of the result; Cols is a multiple of 16
	Taps, Depth int // a sum has Depth terms for each tap

	NextRow  int // from one row of the result to the next
	ANextRow int // in a, from a term of one row to that of the next
	ANextTap int // in a, from the first term of one tap to that of the next
	ANext    int // in a, from one term to the next
	BNext    int // in b, from the columns of one term to those of the next
}

// AddProduct adds a matrix product, or several, to dst:
//
//	for r := range p.Rows {
//		for c := range p.Cols {
//			sum := dst[r*p.NextRow+c] + bias[c]
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
// no processor-independent Go gives the sum of both rounded once in float32.
//
// A bias of nil is zero. AddProduct panics unless a, b, bias and dst hold all
// elements that this needs and no distance is negative. dst must overlap none of
// the others.
func AddProduct(dst, a, b, bias []float32, floor float32, p *Product) {
	if p.Rows <= 0 || p.Cols <= 0 {
		return
	}
	p.check(dst, a, b, bias)
	if !vector || p.Taps*p.Depth == 0 {
		p.add(dst, a, b, bias, floor)
		return
	}
	for c := 0; c < p.Cols; c += productCols {
		from := &noBias
		if bias != nil {
			from = (*[productCols]float32)(bias[c:])
		}
		whole := p.Rows &^ (productRows - 1)
		if whole > 0 {
			addProductAVX2(&dst[c], &a[0], &b[c], from, floor, whole, p)
		}
		for r := whole; r < p.Rows; r++ { // four times the same row
			row := *p
			row.NextRow, row.ANextRow = 0, 0
			addProductAVX2(&dst[r*p.NextRow+c], &a[r*p.ANextRow], &b[c], from, floor, productRows, &row)
		}
	}
}

// productRows and productCols are the size of the part of the result whose sums
// the assembly holds in registers.
const (
	productRows = 4
	productCols = 16
)

var noBias [productCols]float32

// addProductAVX2 computes the first 16 columns of the given number of rows, a
// multiple of four.
//
//go:noescape
func addProductAVX2(dst, a, b *float32, bias *[productCols]float32, floor float32, rows int, p *Product)

func (p *Product) check(dst, a, b, bias []float32) {
	terms := p.Taps * p.Depth
	switch {
	case p.Cols%productCols != 0,
		min(p.Taps, p.Depth, p.NextRow, p.ANextRow, p.ANextTap, p.ANext, p.BNext) < 0,
		(p.Rows-1)*p.NextRow+p.Cols > len(dst),
		bias != nil && p.Cols > len(bias),
		terms > 0 && (p.Rows-1)*p.ANextRow+(p.Taps-1)*p.ANextTap+(p.Depth-1)*p.ANext >= len(a),
		terms > 0 && (terms-1)*p.BNext+p.Cols > len(b):
		panic("simd: a product reaches beyond its operands")
	}
}

// add is AddProduct in portable Go. It takes eight columns at a time, whose sums
// stay in registers.
func (p *Product) add(dst, a, b, bias []float32, floor float32) {
	for c := 0; c < p.Cols; c += 8 {
		start := (*[8]float32)(noBias[:])
		if bias != nil {
			start = (*[8]float32)(bias[c:])
		}
		for r := range p.Rows {
			p.addEight((*[8]float32)(dst[r*p.NextRow+c:]), a[r*p.ANextRow:], b[c:], start, floor)
		}
	}
}

func (p *Product) addEight(dst *[8]float32, a, b []float32, bias *[8]float32, floor float32) {
	s0, s1, s2, s3 := dst[0]+bias[0], dst[1]+bias[1], dst[2]+bias[2], dst[3]+bias[3]
	s4, s5, s6, s7 := dst[4]+bias[4], dst[5]+bias[5], dst[6]+bias[6], dst[7]+bias[7]
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
	*dst = [8]float32{s0, s1, s2, s3, s4, s5, s6, s7}
	for i, v := range dst {
		if floor > v {
			dst[i] = floor
		}
	}
}
