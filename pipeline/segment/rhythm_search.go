package segment

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"phonocycle/pipeline/segment/hsmm"
)

// cycleStep is the ratio of neighbouring cycle lengths that are tried, less than
// a standard deviation of the cycle within a recording.
const cycleStep = 1.04

// shifts are the departures of the S1–S2 interval from its regression that are
// tried, in standard deviations between recordings.
var shifts = [...]float64{-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2}

// unshifted is the index of the shift of zero.
const unshifted = len(shifts) / 2

// topCycles is the number of cycle lengths for which all shifts are tried.
const topCycles = 3

// candidate is a rhythm to try: indices of its cycle length and its shift. Its
// score is that of the frames less the penalty of the shift.
type candidate struct {
	cycle, shift int
	score        float64
}

// rhythmSearch finds the rhythm under which the frames of a Decoder score best:
// first among the cycle lengths, then among the shifts of systole for the best
// few of these. Scores under different sojourn distributions can be compared
// since each is a probability of the frames, see package hsmm.
//
// A rhythmSearch keeps the sojourn distributions of all candidates; it serves one
// goroutine.
type rhythmSearch struct {
	regression *sojournRegression
	score      func(*hsmm.Decoder, []*hsmm.Sojourns) []float64
	penalties  [len(shifts)]float64 // of the shifts
	cycles     []float64            // seconds, from fast to slow
	sojourns   [][len(shifts)]*hsmm.Sojourns
	batch      []*hsmm.Sojourns // of the candidates
	candidates []candidate
}

func newRhythmSearch(r Rates, regression *sojournRegression, score func(*hsmm.Decoder, []*hsmm.Sojourns) []float64) *rhythmSearch {
	s := &rhythmSearch{regression: regression, score: score}
	for k, shift := range shifts {
		s.penalties[k] = regression.shiftPenalty(shift)
	}
	for c := r.shortestCycle(); c < r.longestCycle()*cycleStep; c *= cycleStep {
		s.cycles = append(s.cycles, c)
	}
	s.sojourns = make([][len(shifts)]*hsmm.Sojourns, len(s.cycles))
	return s
}

// errNoRhythm says that every rhythm has a likelihood of zero, as by a model of
// which some state is impossible in every frame.
var errNoRhythm = errors.New("no rhythm has a path of positive probability: the model does not fit this recording")

// best returns the rhythm with the highest score less the penalty of its shift,
// the first tried of equals.
func (s *rhythmSearch) best(ctx context.Context, d *hsmm.Decoder) (rhythm, error) {
	s.candidates = s.candidates[:0]
	for i := range s.cycles {
		s.candidates = append(s.candidates, candidate{cycle: i, shift: unshifted})
	}
	if err := s.rate(ctx, d); err != nil {
		return rhythm{}, err
	}
	possible := slices.DeleteFunc(s.candidates, func(c candidate) bool { return math.IsInf(c.score, -1) })
	if len(possible) == 0 {
		return rhythm{}, errNoRhythm
	}
	slices.SortStableFunc(possible, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	top := slices.Clone(possible[:min(len(possible), topCycles)])
	s.candidates = s.candidates[:0]
	for k := range shifts {
		for _, t := range top {
			if k != unshifted { // rated before
				s.candidates = append(s.candidates, candidate{cycle: t.cycle, shift: k})
			}
		}
	}
	if err := s.rate(ctx, d); err != nil {
		return rhythm{}, err
	}
	choice := top[0]
	for _, c := range s.candidates {
		if c.score > choice.score {
			choice = c
		}
	}
	return s.rhythm(choice), nil
}

// rate sets the scores of the candidates.
func (s *rhythmSearch) rate(ctx context.Context, d *hsmm.Decoder) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	s.batch = s.batch[:0]
	for _, c := range s.candidates {
		s.batch = append(s.batch, s.distributions(c))
	}
	for i, score := range s.score(d, s.batch) {
		c := &s.candidates[i]
		c.score = score - s.penalties[c.shift]
	}
	return nil
}

func (s *rhythmSearch) rhythm(c candidate) rhythm {
	cycle := s.cycles[c.cycle]
	return rhythm{cycle, s.regression.systole(cycle) + shifts[c.shift]*s.regression.SystoleSD}
}

// distributions returns the sojourn distributions of a candidate.
func (s *rhythmSearch) distributions(c candidate) *hsmm.Sojourns {
	kept := &s.sojourns[c.cycle][c.shift]
	if *kept == nil {
		*kept = new(hsmm.Sojourns)
		s.regression.set(*kept, s.rhythm(c))
	}
	return *kept
}
