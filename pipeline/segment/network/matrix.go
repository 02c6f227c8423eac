package network

import "slices"

// Matrix is a matrix whose element (i, j) is Data[i*Stride+j].
type Matrix struct {
	Rows, Cols, Stride int
	Data               []float32
}

// Row returns row i.
func (m Matrix) Row(i int) []float32 { return m.Data[i*m.Stride : i*m.Stride+m.Cols] }

// padded returns the number of columns to which a row of n is extended, so that
// the products of package simd can work on it and rows begin with a cache line.
func padded(n int) int { return (n + 15) &^ 15 }

// resize makes m a matrix of rows × cols. Its contents are undefined.
func (m *Matrix) resize(rows, cols int) {
	m.Rows, m.Cols, m.Stride = rows, cols, padded(cols)
	m.Data = slices.Grow(m.Data[:0], rows*m.Stride)[:rows*m.Stride]
}

// sequence is the channels of consecutive frames, one row per frame, with rows of
// zeros before and behind them, which a convolution reads beyond the ends.
type sequence struct {
	Matrix
	margin int       // rows of zeros at either end
	whole  []float32 // Data with them
}

// resize makes room for frames with so many channels. The channels of the frames,
// and those that pad a row, are undefined.
func (s *sequence) resize(frames, channels, margin int) {
	s.Rows, s.Cols, s.Stride, s.margin = frames, channels, padded(channels), margin
	around := margin * s.Stride
	n := frames*s.Stride + 2*around
	s.whole = slices.Grow(s.whole[:0], n)[:n]
	s.Data = s.whole[around : n-around]
	clear(s.whole[:around])
	clear(s.whole[n-around:])
}

// operand is what a convolution reads: channel i at frame t is
// data[t*frame+i*channel].
type operand struct {
	data           []float32
	frame, channel int
}

// from returns the operand that begins so many frames before the first of s.
func (s *sequence) from(before int) operand {
	return operand{s.whole[(s.margin-before)*s.Stride:], s.Stride, 1}
}

// byChannel returns the operand of a matrix with one row per channel.
func (m Matrix) byChannel() operand { return operand{m.Data, 1, m.Stride} }
