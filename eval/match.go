package eval

import (
	"slices"
	"time"
)

// matcher pairs the events of one class. Its buffers are reused from call to
// call, so that a worker allocates nothing while it scores.
//
// Of all one-to-one pairings in which no pair lies further apart than the
// tolerance, it finds one with the most pairs and, among those, the least
// total distance. On a line two crossing pairs can always be uncrossed without
// a pair more distant than the larger of the two and without a greater total,
// so a dynamic programme over prefixes that keep the order suffices:
//
//	best(i, j) = best of { best(i−1, j), best(i, j−1), best(i−1, j−1) + pair(i, j) }
//
// For each reference only the predictions within the tolerance are visited.
// Where two pairings are equally good the one that pairs earlier events is
// taken.
type matcher struct {
	first   []int32 // first[i]: number of predictions before the tolerance of reference i
	offset  []int32 // cells of reference i are cells[offset[i]:offset[i+1]], for prefixes first[i], first[i]+1, …
	cells   []cell
	partner []int32
}

// cell is the best pairing of a prefix of the references and a prefix of the
// predictions.
type cell struct {
	cost  time.Duration
	pairs int32
	move  move
}

type move uint8

const (
	skipReference move = iota
	skipPrediction
	pairUp
)

// better reports whether c has more pairs than d, or as many at less cost.
func (c cell) better(d cell) bool {
	if c.pairs != d.pairs {
		return c.pairs > d.pairs
	}
	return c.cost < d.cost
}

// match returns for each reference the index of its prediction, or −1. Both
// lists are sorted. The result is valid until the next call.
func (m *matcher) match(reference, predicted []time.Duration, tolerance time.Duration) []int32 {
	n := len(reference)
	m.first, m.offset, m.cells = m.first[:0], append(m.offset[:0], 0), m.cells[:0]
	lo, hi := 0, 0
	for i, r := range reference {
		for lo < len(predicted) && r-predicted[lo] > tolerance {
			lo++
		}
		hi = max(hi, lo)
		for hi < len(predicted) && predicted[hi]-r <= tolerance {
			hi++
		}
		m.first = append(m.first, int32(lo))
		c := m.before(i, lo)
		c.move = skipReference
		m.cells = append(m.cells, c)
		for j := lo; j < hi; j++ {
			c = m.step(c, m.before(i, j+1), m.before(i, j), (r - predicted[j]).Abs())
			m.cells = append(m.cells, c)
		}
		m.offset = append(m.offset, int32(len(m.cells)))
	}
	return m.trace(n, len(predicted))
}

// step returns the best of leaving out the last prediction, leaving out the
// last reference, and pairing the two.
func (m *matcher) step(withoutPrediction, withoutReference, withoutBoth cell, distance time.Duration) cell {
	best := withoutPrediction
	best.move = skipPrediction
	if withoutReference.better(best) {
		best = withoutReference
		best.move = skipReference
	}
	withoutBoth.pairs++
	withoutBoth.cost += distance
	if withoutBoth.better(best) {
		best = withoutBoth
		best.move = pairUp
	}
	return best
}

// before returns the best pairing of the references before i with the first j
// predictions. Predictions past the reach of reference i−1 add nothing.
func (m *matcher) before(i, j int) cell {
	if i == 0 {
		return cell{}
	}
	return m.cells[m.index(i-1, j)]
}

// index returns where the cell of reference i and the first j predictions
// lies; j is at least first[i].
func (m *matcher) index(i, j int) int {
	return min(int(m.offset[i])+j-int(m.first[i]), int(m.offset[i+1])-1)
}

// trace walks the moves back from the full lists.
func (m *matcher) trace(n, j int) []int32 {
	m.partner = slices.Grow(m.partner[:0], n)[:n]
	for i := n - 1; i >= 0; {
		at := m.index(i, j)
		j = int(m.first[i]) + at - int(m.offset[i])
		switch m.cells[at].move {
		case skipPrediction:
			j--
		case skipReference:
			m.partner[i] = -1
			i--
		case pairUp:
			j--
			m.partner[i] = int32(j)
			i--
		}
	}
	return m.partner
}

// pairs returns the number of references that have a partner.
func pairs(partner []int32) int {
	n := 0
	for _, p := range partner {
		if p >= 0 {
			n++
		}
	}
	return n
}
