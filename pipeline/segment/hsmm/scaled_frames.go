package hsmm

import "phonocycle/pipeline/simd"

// scaledFrames are the likelihoods of frames, b_j(t) = exp ℓ(t, j) over the
// largest of the four, in products that stay within the range of a float64: they
// begin anew with each block of frames.
type scaledFrames struct {
	offset  float64      // sum over frames of the largest log-likelihood
	starts  []int        // of the blocks, and behind them the number of frames
	product [4][]float64 // Π b_j(u) from the start of t's block to the frame before t
	inverse [4][]float64 // 1/product
	factor  [4][]float64 // Π b_j(u) over each block
	logs    [4][]float64 // ln b_j(t)
}

// A block ends before the product of any state falls below e^leastProduct, with
// one frame at least, and has blockFrames at most.
const (
	blockFrames  = 64
	leastProduct = -300
)

// set takes in the frames of which cum holds the cumulative log-likelihoods, four
// a frame.
func (s *scaledFrames) set(cum []float64, frames int) {
	for j := range s.logs {
		s.logs[j] = grow(s.logs[j], frames)
	}
	s.offset = 0
	s.starts = append(s.starts[:0], 0)
	var sum [4]float64
	for t := range frames {
		row := cum[4*t : 4*t+8]
		v0, v1, v2, v3 := row[4]-row[0], row[5]-row[1], row[6]-row[2], row[7]-row[3]
		largest := max(v0, v1, v2, v3)
		s.offset += largest
		least := 0.0
		for j, v := range [4]float64{v0 - largest, v1 - largest, v2 - largest, v3 - largest} {
			s.logs[j][t] = v
			sum[j] += v
			least = min(least, sum[j])
		}
		if start := s.starts[len(s.starts)-1]; t > start && (least < leastProduct || t-start == blockFrames) {
			s.starts = append(s.starts, t)
			for j := range sum {
				sum[j] = s.logs[j][t]
			}
		}
	}
	s.starts = append(s.starts, frames)
	s.multiply()
}

// multiply fills in the products.
func (s *scaledFrames) multiply() {
	frames, blocks := s.frames(), s.blocks()
	for j := range s.logs {
		s.product[j], s.inverse[j] = grow(s.product[j], frames), grow(s.inverse[j], frames)
		s.factor[j] = grow(s.factor[j], blocks)
		for k := range blocks {
			sum := 0.0
			for t := s.starts[k]; t < s.starts[k+1]; t++ {
				s.product[j][t] = sum
				sum += s.logs[j][t]
			}
			s.factor[j][k] = sum
		}
		simd.Exp(s.product[j], s.product[j])
		simd.Exp(s.factor[j], s.factor[j])
		for t, p := range s.product[j] {
			s.inverse[j][t] = 1 / p
		}
	}
}

func (s *scaledFrames) blocks() int { return len(s.starts) - 1 }
func (s *scaledFrames) frames() int { return s.starts[len(s.starts)-1] }
