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
// tried, in standard deviations between recordings: sick adults depart further than
// the children that it was fitted to.
var shifts = [...]float64{-3, -2.25, -1.5, -0.75, 0, 0.75, 1.5, 2.25, 3}

// unshifted is the index of the shift of zero.
const unshifted = len(shifts) / 2

// topCycles is the number of cycle lengths for which all shifts are tried.
const topCycles = 3

// boundaryBlur returns what each boundary between states is worth too much, in
// natural logarithms, in a sum over paths whose frames are tempered, that is, have
// their log-likelihoods multiplied by α. A rhythm of half the true period has twice
// as many boundaries, so that the sum alone prefers it.
//
// Moving a boundary by x frames from its best place changes the score of a path by
// about −(α·g + κ)·x²/2, where g is the sharpness of the evidence and κ that of the
// sojourns on both sides. The sum over all places is √(2π/(α·g + κ)) times the best
// (Laplace's method). Tempering is to weaken the evidence, since neighbouring frames
// repeat each other; it is not to widen boundaries. It does so, and the sum exceeds
// that of α = 1 by ½ ln((g + κ)/(α·g + κ)) per boundary. Evidence and sojourns both
// tell a boundary to about a frame. With g = κ this is
//
//	blur = ½ ln(2/(1 + α)).
func boundaryBlur(temper float64) float64 { return math.Log(2/(1+temper)) / 2 }

// rateDeparture returns the departure of a rate from the usual in standard deviations of
// its logarithm. The prior of rates is log-normal: of 98 hearts in 100 it expects 43 to
// 181 beats a minute, the lowest of the first and the highest of the 99th percentiles
// from birth to 18 years (Fleming et al. 2011, Lancet 377:1011, doi
// 10.1016/S0140-6736(10)62226-X; from memory, high confidence). It decides where the
// sound says nothing, and costs 40 or 220 beats a minute four natural logarithms.
func rateDeparture(cycle float64) float64 {
	const slow, fast, normal99 = 43, 181, 2.326
	middle, half := math.Log(slow*fast)/2, math.Log(float64(fast)/slow)/2
	return (math.Log(60/cycle) - middle) / half * normal99
}

// candidate is a rhythm to try: indices of its cycle length and its shift z. Its
// score is that of the frames less the blur of the boundaries, plus the logarithms of
// the prior densities of rate and shift up to a constant.
type candidate struct {
	cycle, shift int
	score        float64
}

// rhythmSearch finds the rhythm under which the frames of a Decoder score best:
// first among the cycle lengths, then among the shifts of systole for the best
// few of these. Scores under different sojourn distributions can be compared
// since each is a probability of the frames, see package hsmm, less the blur that
// tempering adds.
//
// A rhythmSearch keeps the sojourn distributions of all candidates; it serves one
// goroutine.
type rhythmSearch struct {
	regression *sojournRegression
	score      func(*hsmm.Decoder, []*hsmm.Sojourns) []float64
	blur       float64   // see boundaryBlur
	cycles     []float64 // seconds, from fast to slow
	sojourns   [][len(shifts)]*hsmm.Sojourns
	batch      []*hsmm.Sojourns // of the candidates
	candidates []candidate
}

func newRhythmSearch(r Rates, regression *sojournRegression, score func(*hsmm.Decoder, []*hsmm.Sojourns) []float64, blur float64) *rhythmSearch {
	s := &rhythmSearch{regression: regression, score: score, blur: blur}
	for c := r.shortestCycle(); c < r.longestCycle()*cycleStep; c *= cycleStep {
		s.cycles = append(s.cycles, c)
	}
	s.sojourns = make([][len(shifts)]*hsmm.Sojourns, len(s.cycles))
	return s
}

// errNoRhythm says that every rhythm has a likelihood of zero, as by a model of
// which some state is impossible in every frame.
var errNoRhythm = errors.New("no rhythm has a path of positive probability: the model does not fit this recording")

// best returns the rhythm with the highest score, the first tried of equals.
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
		boundaries := 4 * float64(d.Frames()) / frameRate / s.cycles[c.cycle]
		rate, shift := rateDeparture(s.cycles[c.cycle]), shifts[c.shift]
		c.score = score - boundaries*s.blur - (rate*rate+shift*shift)/2
	}
	return nil
}

func (s *rhythmSearch) rhythm(c candidate) rhythm {
	cycle := s.cycles[c.cycle]
	return rhythm{cycle, s.regression.systole(cycle) * (1 + shifts[c.shift]*s.regression.SystoleSD)}
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
