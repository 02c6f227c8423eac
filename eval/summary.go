package eval

import (
	"fmt"
	"maps"
	"slices"

	"phonocycle/pipeline/pcg"
)

// Summary is what a person quotes of a scored data set.
type Summary struct {
	Rules      RulesStatement      `json:"rules"`
	Statistics StatisticsStatement `json:"statistics"`
	Counts     CountsStatement     `json:"counts"`
	Scores     []Score             `json:"scores"`
	Events     []Events            `json:"events"`
	Exchange   Exchange            `json:"exchange"`
	Frames     FrameScore          `json:"frames"`
	Cycles     CycleScore          `json:"cycles"`
	Timing     []Timing            `json:"timing"`
	Agreement  []Agreement         `json:"agreement"`
	Warnings   []string            `json:"warnings"`
}

// RulesStatement says how the scores were counted, in figures and in words.
type RulesStatement struct {
	Anchor       Anchor    `json:"anchor"`
	TolerancesMS []float64 `json:"tolerances_ms"`
	HeadlineMS   float64   `json:"headline_ms"`
	GapMS        float64   `json:"gap_ms"`
	EdgeMS       float64   `json:"edge_ms"`
	Matching     string    `json:"matching"`
	ScoredTime   string    `json:"scored_time"`
	Edges        string    `json:"edges"`
	NoOutput     string    `json:"no_output"`
	Aggregates   string    `json:"aggregates"`
}

// Statement returns the rules in figures and in words.
func (r *Rules) Statement() RulesStatement {
	s := RulesStatement{
		Anchor: r.Anchor, HeadlineMS: milliseconds(r.Headline), GapMS: milliseconds(r.Gap), EdgeMS: milliseconds(r.Edge),
		Matching:   "one-to-one within a class, |predicted − reference| ≤ tolerance; most pairs first, then least total distance",
		ScoredTime: fmt.Sprintf("annotated states, gaps up to %g ms closed; for points from the first to the last, widened by the tolerance; an unpaired prediction outside is ignored", milliseconds(r.Gap)),
		Edges:      fmt.Sprintf("a reference event within %g ms of the start or the end of the recording may absorb a pair and is never missed", milliseconds(r.Edge)),
		NoOutput:   "a recording without output has missed all its reference events",
		Aggregates: "pooled over events; mean over recordings; mean over people, each pooled over their recordings",
	}
	for _, t := range r.Tolerances {
		s.TolerancesMS = append(s.TolerancesMS, milliseconds(t))
	}
	return s
}

// StatisticsStatement says how the intervals were computed.
type StatisticsStatement struct {
	Intervals  string    `json:"intervals"`
	Resamples  int       `json:"resamples"`
	Seed       uint64    `json:"seed"`
	Confidence float64   `json:"confidence"`
	MinPeople  int       `json:"min_people"`
	RateBands  []float64 `json:"heart_rate_bands"`
}

// CountsStatement says how many recordings entered and how. In is the sum of
// Done, Failed and Excluded.
type CountsStatement struct {
	In            int           `json:"in"`
	Done          int           `json:"done"`
	Failed        int           `json:"failed"`
	Excluded      int           `json:"excluded"`
	Reasons       []ReasonCount `json:"by_reason"`
	People        int           `json:"people"`
	WithoutPerson int           `json:"without_person"`
	ScoredTime    float64       `json:"scored_s"`
}

// ReasonCount is how many recordings have one reason.
type ReasonCount struct {
	Status string `json:"status"`
	Reason string `json:"reason"`
	Count  int    `json:"count"`
}

// Events counts the events of one class at the headline.
type Events struct {
	Class     Class `json:"class"`
	Reference int   `json:"reference"`
	Predicted int   `json:"predicted"`
	TP        int   `json:"tp"`
	FP        int   `json:"fp"`
	FN        int   `json:"fn"`
	Ignored   int   `json:"ignored"`  // predictions outside scored time
	Absorbed  int   `json:"absorbed"` // pairs with a cut reference event
	Cut       int   `json:"cut"`      // unpaired cut reference events
	Doubled   int   `json:"doubled"`  // false positives within the tolerance of a paired reference event
	Merged    int   `json:"merged"`   // missed events within the tolerance of a paired prediction
}

// add counts one event. Pairs are counted on the reference side.
func (e *Events) add(m *Match) {
	if m.Source == FromPrediction {
		e.Predicted++
	} else {
		e.Reference++
	}
	switch m.Outcome {
	case FalsePositive:
		e.FP++
	case FalseNegative:
		e.FN++
	case Ignored:
		e.Ignored++
	case Cut:
		e.Cut++
	case TruePositive:
		e.TP += int(1 - m.Source)
	case Absorbed:
		e.Absorbed += int(1 - m.Source)
	}
}

// Exchange counts S1 taken for S2 and the reverse, at the headline.
type Exchange struct {
	Pairs         int    `json:"pairs"`           // within a class
	PairsAnyClass int    `json:"pairs_any_class"` // regardless of class
	Exchanged     int    `json:"exchanged"`       // their difference
	Share         Ratio  `json:"share"`           // of pairs regardless of class
	Interval      Bounds `json:"share_interval"`

	// Recordings are those with a better F1 after swapping the predicted labels.
	Recordings []string `json:"recordings"`
}

// FrameScore compares states over annotated time.
type FrameScore struct {
	Accuracy  Ratio         `json:"accuracy"`
	Low       Ratio         `json:"low"`
	High      Ratio         `json:"high"`
	States    [4]string     `json:"states"`
	Confusion [4][4]float64 `json:"confusion_s"` // seconds by annotated (rows) and predicted state
	Missed    [4]float64    `json:"missed_s"`    // seconds of each annotated state without prediction
}

// CycleScore counts whole reference cycles with all three sounds paired, and
// no other predicted sound between them.
type CycleScore struct {
	Whole int   `json:"whole"`
	Right int   `json:"right"`
	Share Ratio `json:"share"`
	Low   Ratio `json:"low"`
	High  Ratio `json:"high"`
}

// Summary computes the summary of what was added so far.
func (a *Accumulator) Summary() *Summary {
	s := &Summary{
		Rules: a.rules.Statement(),
		Statistics: StatisticsStatement{
			Intervals: "bootstrap over people with all their recordings; low and high are BCa bounds of F1, percentile where BCa is undefined",
			Resamples: a.options.Resamples, Seed: a.options.Seed, Confidence: a.options.Confidence,
			MinPeople: a.options.MinPeople, RateBands: RateBands[:],
		},
		Counts:    a.countsStatement(),
		Events:    slices.Clone(a.events[:]),
		Timing:    a.timing(),
		Agreement: a.agreement(),
	}
	var fromScores []string
	s.Scores, fromScores = a.scores()
	a.shares(s)
	s.Warnings = append(append([]string{}, a.warnings(s)...), fromScores...)
	return s
}

func (a *Accumulator) countsStatement() CountsStatement {
	c := CountsStatement{
		In: a.in, People: len(a.people), WithoutPerson: a.unknown, ScoredTime: a.scoredFor.Seconds(), Reasons: []ReasonCount{},
	}
	sums := [len(statusNames)]*int{Scored: &c.Done, Failed: &c.Failed, Excluded: &c.Excluded}
	for status, reasons := range a.reasons {
		for _, reason := range slices.Sorted(maps.Keys(reasons)) {
			*sums[status] += reasons[reason]
			if reason != "" || Status(status) != Scored {
				c.Reasons = append(c.Reasons, ReasonCount{Status(status).String(), reason, reasons[reason]})
			}
		}
	}
	return c
}

// shares fills in what is a share of sums over people: exchanged pairs, right
// frames and right cycles.
func (a *Accumulator) shares(s *Summary) {
	const exchanged, accuracy, cycles, figures = 0, 1, 2, 3
	c := &clusters{columns: 2 * figures, sums: make([]float64, 2*figures*len(a.people))}
	for i := range a.records {
		r := &a.records[i]
		addTo(c.row(int(r.person)), []float64{
			float64(r.anyPairs - r.pairs), float64(r.anyPairs),
			r.framesOK.Seconds(), r.frames.Seconds(),
			float64(r.right), float64(r.cycles),
		})
		s.Cycles.Whole += int(r.cycles)
		s.Cycles.Right += int(r.right)
	}
	intervals := a.options.bootstrap(c, figures, sumRatios)

	s.Exchange = Exchange{
		Pairs: a.pairs, PairsAnyClass: a.anyPairs, Exchanged: a.anyPairs - a.pairs,
		Share: ratio(float64(a.anyPairs-a.pairs), float64(a.anyPairs)), Interval: intervals[exchanged].best(),
		Recordings: append([]string{}, a.flagged...),
	}
	s.Cycles.Share = ratio(float64(s.Cycles.Right), float64(s.Cycles.Whole))
	s.Cycles.Low, s.Cycles.High = intervals[cycles].best()[0], intervals[cycles].best()[1]
	s.Frames.Accuracy = a.frames.Accuracy()
	s.Frames.Low, s.Frames.High = intervals[accuracy].best()[0], intervals[accuracy].best()[1]
	for i, state := range pcg.Cycle {
		s.Frames.States[i] = state.String()
		s.Frames.Missed[i] = a.frames.Missed[i].Seconds()
		for j := range pcg.Cycle {
			s.Frames.Confusion[i][j] = a.frames.Confusion[i][j].Seconds()
		}
	}
}

// FewPeople is the number of people below which a summary warns that intervals
// over them are too narrow: the resamples can show no more variety than those
// people have.
const FewPeople = 20

// warnings lists what does not stop an analysis but should be told with it.
func (a *Accumulator) warnings(s *Summary) (w []string) {
	say := func(format string, values ...any) { w = append(w, fmt.Sprintf(format, values...)) }
	if s.Counts.Failed > 0 {
		say("%d of %d recordings have no output; all their reference events count as missed", s.Counts.Failed, len(a.records))
	}
	if s.Counts.Excluded > 0 {
		say("%d of %d recordings are excluded and in no score", s.Counts.Excluded, s.Counts.In)
	}
	if a.unknown > 0 {
		say("%d recordings name no person; each stands for a person of its own, so intervals are too narrow if people recur", a.unknown)
	}
	if len(a.records) > 0 && len(a.people) == len(a.records) {
		say("every person has one recording: the means over recordings and over people are the same")
	}
	if n := len(a.people); n > 0 && n < FewPeople {
		say("%d people are few for a bootstrap over people: intervals are too narrow", n)
	}
	if a.options.Resamples < MinResamples {
		say("%d resamples are fewer than %d: the ends of intervals are noisy", a.options.Resamples, MinResamples)
	}
	if n := len(a.flagged); n > 0 {
		say("%d of %d recordings score better with S1 and S2 exchanged", n, len(a.records))
	}
	if a.points > 0 {
		say("%d recordings have a reference of points: they are scored at the centre only and in no comparison of states over time", a.points)
	}
	if a.unstated > 0 {
		say("%d recordings bring no comparison of states over time", a.unstated)
	}
	if a.narrow > 0 {
		say("in %d recordings the median S1 to S2 of the reference is shorter than twice the tolerance of %g ms: a sound could be paired across half a systole", a.narrow, milliseconds(a.rules.Headline))
	}
	return w
}
