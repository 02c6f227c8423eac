package segment

import (
	"math"

	"phonocycle/pipeline/simd"
)

// futures bounds what can come after a crossing, whatever the hypothesis of a
// group, for up to four groups side by side.
type futures struct {
	most     [4][]float64          // of frames t and later if state j is entered at t, scaled
	scale    [][simd.Width]float64 // logarithm of the scale of most in each block
	all      [simd.Width]float64   // logarithm of the most that the whole recording can be
	reversed scaledFrames
	pass     forward
}

// set computes the bounds for the given frames and the envelopes of the groups. It
// is the forward recursion from the end of the recording to its start.
func (f *futures) set(frames *scaledFrames, envelopes *quartet, of paths) {
	f.reversed.reverse(frames)
	n, blocks := frames.frames(), frames.blocks()
	for j := range f.most {
		f.most[j] = grow(f.most[j], simd.Width*(n+1))
		clear(f.most[j][:simd.Width]) // nothing crosses at the start
	}
	f.scale = grow(f.scale, blocks)
	f.pass.begin(&f.reversed, envelopes, of, 3)
	for k := range blocks {
		f.pass.pass(nil, &f.most)
		block := blocks - 1 - k
		f.scale[block] = f.pass.scale
		if k > 0 {
			f.rescale(n-f.reversed.starts[k], block)
		}
	}
	f.pass.finish()
	f.all = f.pass.score
}

// rescale brings frame t, the first after a block, which the backward pass has done
// with that block, to the scale of its own.
func (f *futures) rescale(t, block int) {
	for l := range simd.Width {
		shift := math.Exp(f.scale[block][l] - f.scale[block+1][l])
		for j := range f.most {
			f.most[j][simd.Width*t+l] *= shift
		}
	}
}

// future is what comes for one of the groups.
type future struct {
	*futures
	group int
}
