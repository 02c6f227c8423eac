package eval

import (
	"cmp"
	"slices"
)

// Accumulator adds the results of recordings and sums them up. It keeps the
// headline counts of each recording, the sweep of each person and sums over
// all events, but no events: some 100 bytes a recording and 300 a person. The
// intervals take 400 more a person while they are computed.
//
// Results are to be added in one order, that of the recordings. The resamples
// number people by first appearance.
type Accumulator struct {
	rules   Rules
	options Options

	recordings []recording
	people     people
	strata     strata
	reasons    map[string]int // of recordings that failed or are excluded

	pooled    [classes][anchors][]tally // by tolerance
	frames    Frames
	timing    timing
	exchange  Exchange
	exchanged []string // recordings flagged
	cycles    Cycles
}

// tally holds the counts of a ratio.
type tally struct{ tp, fp, fn int }

func (t *tally) plus(u tally) { t.tp += u.tp; t.fp += u.fp; t.fn += u.fn }

// recording is what is kept of one result.
type recording struct {
	id     string
	person int32
	status Status
	counts bool // whether there are counts at the headline anchor

	headline           [classes][3]int32 // TP, FP, FN
	strata             int32             // which set of strata
	reference          Beat
	predicted          Beat
	hasPoints, unnamed bool // reference of points; person not stated
}

// tally returns the headline counts of one class, or of both together.
func (r *recording) tally(class Class) tally {
	var t tally
	for c, n := range r.headline {
		if class == Both || int(class) == c {
			t.plus(tally{int(n[0]), int(n[1]), int(n[2])})
		}
	}
	return t
}

// people numbers people and keeps their sweep: TP, FP and FN by class and
// tolerance at the headline anchor.
type people struct {
	number map[string]int32
	names  []string
	sweep  []int32
}

// add returns the number of a person.
func (p *people) add(name string, columns int) int32 {
	n, ok := p.number[name]
	if !ok {
		n = int32(len(p.names))
		p.number[name] = n
		p.names = append(p.names, name)
		p.sweep = append(p.sweep, make([]int32, columns)...)
	}
	return n
}

// NewAccumulator returns an accumulator of results that were scored by rules.
func NewAccumulator(rules Rules, options Options) *Accumulator {
	a := &Accumulator{rules: rules, options: options.withDefaults()}
	a.rules.Tolerances = slices.Clone(rules.Tolerances)
	a.people.number = make(map[string]int32)
	a.reasons = make(map[string]int)
	for class := range a.pooled {
		for anchor := range a.pooled[class] {
			a.pooled[class][anchor] = make([]tally, len(rules.Tolerances))
		}
	}
	return a
}

// Grow makes room for so many more results, which saves as much again while they
// are added.
func (a *Accumulator) Grow(results int) { a.recordings = slices.Grow(a.recordings, results) }

// sweepColumns is the number of counts in the sweep of a person.
func (a *Accumulator) sweepColumns() int { return 3 * classes * len(a.rules.Tolerances) }

// sweepColumn is where the TP of a class and tolerance stands among them.
func (a *Accumulator) sweepColumn(class Class, tolerance int) int {
	return 3 * (int(class)*len(a.rules.Tolerances) + tolerance)
}

// personKey keeps a person whom the data set does not name apart from all
// others, as one recording.
func personKey(r *Result) string {
	if r.Person == "" {
		return "\x00" + r.Recording
	}
	return r.Person
}

// Add adds one result. It keeps no reference to the rows of r.
func (a *Accumulator) Add(r *Result) {
	rec := recording{
		id: r.Recording, status: r.Status, person: -1,
		unnamed: r.Person == "", hasPoints: r.Kind == "points",
	}
	if r.Status != Scored {
		a.reasons[cmp.Or(r.Reason, "no reason given")]++
	}
	if r.Status == Excluded {
		a.recordings = append(a.recordings, rec)
		return
	}
	rec.person = a.people.add(personKey(r), a.sweepColumns())
	rec.strata = a.strata.set(valuesOf(r), a.options.Strata)
	rec.reference, rec.predicted = r.Measures.Reference, r.Measures.Predicted
	a.addCounts(&rec, r.Counts)
	a.frames.plus(&r.Frames)
	a.timing.add(r.Matches)
	a.exchange.add(&r.Measures)
	if r.Measures.Exchanged {
		a.exchanged = append(a.exchanged, r.Recording)
	}
	a.cycles.add(&r.Measures)
	a.recordings = append(a.recordings, rec)
}

// addCounts adds counts to the pool, the person and the recording.
func (a *Accumulator) addCounts(rec *recording, counts []Count) {
	tolerances, columns := len(a.rules.Tolerances), a.sweepColumns()
	sweep := a.people.sweep[int(rec.person)*columns:][:columns]
	for i := range counts {
		n, t := &counts[i], i%tolerances
		a.pooled[n.Class][n.Anchor][t].plus(tally{n.TP, n.FP, n.FN})
		if n.Anchor != a.rules.Anchor {
			continue
		}
		rec.counts = true
		three := [3]int32{int32(n.TP), int32(n.FP), int32(n.FN)}
		at := a.sweepColumn(n.Class, t)
		for k, v := range three {
			sweep[at+k] += v
		}
		if n.Tolerance == a.rules.Headline {
			rec.headline[n.Class] = three
		}
	}
}
