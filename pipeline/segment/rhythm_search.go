package segment

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"phonocycle/pipeline/simd"
)

// rhythmGrid is the set of rhythms that a recording is decoded under.
type rhythmGrid struct {
	cycles []float64 // seconds, from fast to slow
	shifts []float64 // of the S1–S2 interval, in standard deviations between recordings
}

// cycleStep is the ratio of neighbouring cycle lengths on the grid, less than
// a standard deviation of the cycle within a recording.
const cycleStep = 1.04

// newRhythmGrid spans the rates.
func newRhythmGrid(r Rates) rhythmGrid {
	g := rhythmGrid{shifts: []float64{-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2}}
	for c := r.shortest(); c < r.longest()*cycleStep; c *= cycleStep {
		g.cycles = append(g.cycles, c)
	}
	return g
}

// rhythm is a hypothesis with its score: the log probability of frames and best
// path under it, without the prior of its shift.
type rhythm struct {
	hypothesis Hypothesis
	score      float64
}

// rivalCycles is the number of cycle lengths for which shifts of systole are tried.
const rivalCycles = 3

// rhythmSearch finds the rhythm under which the frames of a Decoder are the
// likeliest: first among the cycle lengths, then among the shifts of systole for
// the best few of these. Scores of different laws can be compared since each is a
// probability of the frames, see Decoder.
//
// The hypotheses race, see field: those with the highest bound on their score go on
// by a block of frames, until those that have finished are above the bounds of all
// others. What wins is what would win if all ran to the end.
//
// A rhythmSearch keeps the laws of the grid and its tables; it serves one
// goroutine.
type rhythmSearch struct {
	grid   rhythmGrid
	timing *sojournRegression
	of     paths

	laws    [][]*Laws // by cycle length and shift; nil until wanted
	cycles  field     // of all cycle lengths at a shift of zero
	shifts  field     // of all other shifts, for rivals
	futures futures

	finished []float64 // scores after penalties, the highest first
}

func newRhythmSearch(r Rates, timing *sojournRegression, of paths) *rhythmSearch {
	s := &rhythmSearch{grid: newRhythmGrid(r), timing: timing, of: of}
	s.laws = make([][]*Laws, len(s.grid.cycles))
	for i := range s.laws {
		s.laws[i] = make([]*Laws, len(s.grid.shifts))
	}
	for cycle := range s.grid.cycles {
		s.cycles.enter(s.entry(cycle, s.unshifted(), 0))
	}
	s.cycles.draw()
	return s
}

// unshifted returns the place of the shift of zero on the grid.
func (s *rhythmSearch) unshifted() int { return len(s.grid.shifts) / 2 }

// likeliest returns the rhythm that chooseRhythms chooses for the recording alone.
func (s *rhythmSearch) likeliest(ctx context.Context, d *Decoder) (rhythm, error) {
	person := s.timing.person()
	people := personGrid(s.grid.shifts)
	rhythms, err := s.search(ctx, d, 1, func(shift float64) float64 {
		least := math.Inf(1)
		for _, p := range people {
			least = min(least, p*p/(2*person)+(shift-p)*(shift-p)/(2*(1-person)))
		}
		return least
	})
	if err != nil {
		return rhythm{}, err
	}
	return chooseRhythms([][]rhythm{rhythms}, s.grid.shifts, person)[0], nil
}

// rhythms returns the best rhythm for each shift, as chooseRhythms needs them of
// several recordings.
func (s *rhythmSearch) rhythms(ctx context.Context, d *Decoder) ([]rhythm, error) {
	return s.search(ctx, d, rivalCycles*len(s.grid.shifts), func(float64) float64 { return 0 })
}

// errNoRhythm says that every rhythm has a likelihood of zero, as by a model of
// which some state is impossible in every frame.
var errNoRhythm = errors.New("no rhythm has a path of positive probability: the model does not fit this recording")

// search returns the best rhythm for each shift, with a score of −Inf for those
// that are certainly not among the given number of winners after their penalties.
func (s *rhythmSearch) search(ctx context.Context, d *Decoder, winners int, penalty func(shift float64) float64) ([]rhythm, error) {
	s.finished = s.finished[:0]
	if err := s.race(ctx, d, &s.cycles, rivalCycles); err != nil {
		return nil, err
	}
	rivals := s.rivals()
	if len(rivals) == 0 {
		return nil, errNoRhythm
	}
	best := make([]rhythm, len(s.grid.shifts))
	for k := range best {
		best[k].score = math.Inf(-1)
	}
	s.shifts.clear()
	s.finished = s.finished[:0]
	for k, shift := range s.grid.shifts {
		for _, r := range rivals {
			if k == s.unshifted() { // has run already
				s.rank(r.score - penalty(shift))
			} else {
				s.shifts.enter(s.entry(r.cycle, k, penalty(shift)))
			}
		}
	}
	best[s.unshifted()] = rhythm{s.hypothesis(rivals[0].cycle, s.unshifted()), rivals[0].score}
	s.shifts.draw()
	if err := s.race(ctx, d, &s.shifts, winners); err != nil {
		return nil, err
	}
	for i, e := range s.shifts.entries {
		if score := s.shifts.score(i); score > best[e.shift].score {
			best[e.shift] = rhythm{s.hypothesis(e.cycle, e.shift), score}
		}
	}
	return best, nil
}

// hypothesis returns a rhythm of the grid.
func (s *rhythmSearch) hypothesis(cycle, shift int) Hypothesis {
	c := s.grid.cycles[cycle]
	return Hypothesis{Cycle: c, Systole: s.timing.systole(c) + s.grid.shifts[shift]*s.timing.SystoleSD}
}

// entry returns a rhythm of the grid with its laws.
func (s *rhythmSearch) entry(cycle, shift int, penalty float64) entry {
	laws := &s.laws[cycle][shift]
	if *laws == nil {
		*laws = new(Laws)
		s.timing.Laws(*laws, s.hypothesis(cycle, shift))
	}
	return entry{cycle: cycle, shift: shift, penalty: penalty, laws: *laws}
}

// boundSlack covers the rounding of scores and bounds.
const boundSlack = 1e-6

// race goes on until so many have finished as there are winners and no other can
// be above the last of them.
func (s *rhythmSearch) race(ctx context.Context, d *Decoder, f *field, winners int) error {
	s.futures.set(d.scaled(), &f.envelopes, s.of)
	f.start(d.scaled(), &s.futures, s.of)
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		leader, highest := f.leader()
		if leader < 0 || len(s.finished) >= winners && highest < s.finished[winners-1]-boundSlack {
			return nil
		}
		f.racers[leader].advance(&future{&s.futures, f.group(leader)})
		if f.racers[leader].finished {
			for i := simd.Width * leader; i < min(simd.Width*(leader+1), len(f.entries)); i++ {
				s.rank(f.score(i) - f.entries[i].penalty)
			}
		}
	}
}

// rank adds a score to those that have finished.
func (s *rhythmSearch) rank(score float64) {
	at, _ := slices.BinarySearchFunc(s.finished, score, func(a, b float64) int { return cmp.Compare(b, a) })
	s.finished = slices.Insert(s.finished, at, score)
}

// rival is a cycle length with its score.
type rival struct {
	cycle int
	score float64
}

// rivals returns the cycle lengths with the highest scores, the earlier of equals.
func (s *rhythmSearch) rivals() []rival {
	var best []rival
	for i, e := range s.cycles.entries {
		if score := s.cycles.score(i); score > math.Inf(-1) {
			best = append(best, rival{e.cycle, score})
		}
	}
	slices.SortStableFunc(best, func(a, b rival) int { return cmp.Compare(b.score, a.score) })
	return best[:min(len(best), rivalCycles)]
}

// chooseRhythms returns one rhythm for each recording of a person, given the best
// for each shift.
//
// The S1–S2 interval departs from its regression by a part that belongs to the
// person, of which the share person of the variance comes, and one that belongs
// to the recording. With both normal, in standard deviations of their sum,
//
//	ln P(p, z₁, …) = −p²/(2·person) − Σ_r (z_r − p)²/(2·(1 − person)) + const,
//
// for the person's part p and the shifts z_r. The choice maximises the sum of
// this and the scores over p and all z_r on the grid. For one recording the p
// that suits z best leaves −z²/2, the prior of that recording alone.
func chooseRhythms(recordings [][]rhythm, shifts []float64, person float64) []rhythm {
	best, choice := math.Inf(-1), make([]rhythm, len(recordings))
	current := make([]rhythm, len(recordings))
	for _, p := range personGrid(shifts) {
		total := -p * p / (2 * person)
		for r, rhythms := range recordings {
			score := math.Inf(-1)
			for k, z := range shifts {
				if s := rhythms[k].score - (z-p)*(z-p)/(2*(1-person)); s > score {
					score, current[r] = s, rhythms[k]
				}
			}
			total += score
		}
		if total > best {
			best = total
			copy(choice, current)
		}
	}
	return choice
}

// personGrid refines the shifts to steps of a tenth.
func personGrid(shifts []float64) []float64 {
	low, high := shifts[0], shifts[len(shifts)-1]
	grid := make([]float64, 0, int(10*(high-low))+1)
	for k := 0; low+0.1*float64(k) <= high; k++ {
		grid = append(grid, low+0.1*float64(k))
	}
	return grid
}
