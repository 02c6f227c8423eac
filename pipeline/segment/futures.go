package segment

import (
	"math"

	"phonocycle/pipeline/lanes"
)

// future bounds what can come after a crossing, whatever the hypothesis of a
// group.
type future struct {
	most  [4][]float64 // of frames t and later if state j is entered at t, scaled
	scale []float64    // logarithm of the scale of most in each block
	all   float64      // logarithm of the most that the whole recording can be
}

// futures are those of up to four groups of hypotheses.
type futures struct {
	each     [lanes.Width]future
	reversed scaledFrames
	pass     forward
}

// set computes the bounds for the given frames and the envelopes of the groups. It
// is the forward recursion from the end of the recording to its start.
func (f *futures) set(frames *scaledFrames, envelopes *quartet, of paths) {
	f.reversed.reverse(frames)
	n, blocks := frames.frames(), frames.blocks()
	for l := range f.each[:envelopes.count] {
		g := &f.each[l]
		for j := range g.most {
			g.most[j] = grow(g.most[j], n)
			g.most[j][0] = 0 // nothing crosses at the start
		}
		g.scale = grow(g.scale, blocks)
	}
	p := &f.pass
	p.begin(&f.reversed, envelopes, of, 3)
	for k := range blocks {
		p.pass(nil)
		for l := range f.each[:envelopes.count] {
			f.each[l].take(p, l, k, n)
		}
	}
	p.finish()
	for l := range f.each[:envelopes.count] {
		f.each[l].all = p.score[l]
	}
}

// take reads off what the backward pass p has found in its block k about group l.
// What crosses from j at reversed time t enters j at time n − t; a block of the
// one has the frame after that of the other.
func (g *future) take(p *forward, l, k, n int) {
	from, to := p.frames.starts[k], p.frames.starts[k+1]
	block := p.frames.blocks() - 1 - k
	g.scale[block] = p.scale[l]
	shift := 1.0
	if k > 0 {
		shift = math.Exp(g.scale[block] - g.scale[block+1])
	}
	for j := range g.most {
		before := (j + 3) & 3
		e := p.entered[before][lanes.Width*p.laws.sojourns[before].max+l:]
		for t := max(from, 1); t < to; t++ {
			g.most[j][n-t] = e[lanes.Width*(t-from)] * p.frames.product[before][t]
		}
		if k > 0 {
			g.most[j][n-from] *= shift
		}
	}
}
