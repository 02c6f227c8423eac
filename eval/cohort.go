package eval

import (
	"cmp"
	"maps"
	"slices"
)

// cohort is the recordings that are summed up, and their people: what the
// statistics of a summary share. It keeps the headline counts of each recording
// and no events: some 80 bytes per recording.
//
// People are numbered by first appearance, which is also their order in the
// resamples.
type cohort struct {
	rules   Rules
	options Options

	recordings []recording
	names      []string // of people
	number     map[string]int32
	strata     strata
	reasons    map[string]int // why recordings failed or are excluded
}

// recording is what is kept of one result.
type recording struct {
	id        string
	person    int32 // −1 where excluded
	status    Status
	hasCounts bool // at the headline anchor
	centre    bool // it has no other anchor
	unnamed   bool // its person is not stated

	headline classCounts
	strata   int32 // which set of strata
}

// add adds the recording of a result.
func (c *cohort) add(r *Result) *recording {
	rec := recording{
		id: r.Recording, status: r.Status, person: -1,
		unnamed: r.Person == "", centre: r.CentreOnly,
	}
	if r.Status != Scored {
		c.reasons[cmp.Or(r.Reason, "no reason given")]++
	}
	if r.Status != Excluded {
		rec.person = c.addPerson(r)
		rec.strata = c.strata.set(c.options.Strata.valuesOf(r), len(c.options.Strata) > 0)
		for i := range r.Counts {
			if n := &r.Counts[i]; n.Anchor == c.rules.Anchor {
				rec.hasCounts = true
				if n.Tolerance == c.rules.Headline {
					rec.headline[n.Class] = counts{n.TP, n.FP, n.FN}
				}
			}
		}
	}
	c.recordings = append(c.recordings, rec)
	return &c.recordings[len(c.recordings)-1]
}

// addPerson returns the number of the person of a result. One whom the data set
// does not name is kept apart from all others, as one recording.
func (c *cohort) addPerson(r *Result) int32 {
	name := r.Person
	if name == "" {
		name = "\x00" + r.Recording
	}
	n, ok := c.number[name]
	if !ok {
		n = int32(len(c.names))
		c.number[name] = n
		c.names = append(c.names, name)
	}
	return n
}

// allCentre reports whether all recordings in the scores have points.
func (c *cohort) allCentre() bool {
	return !slices.ContainsFunc(c.recordings, func(r recording) bool { return r.status != Excluded && !r.centre })
}

// personOf names the person of a recording.
func (c *cohort) personOf(r *recording) string {
	if r.unnamed {
		return NotStated
	}
	return c.names[r.person]
}

// Counts says what became of the recordings: In = Scored + Failed + Excluded.
type Counts struct {
	In       int           `json:"in"`
	Scored   int           `json:"scored"`
	Failed   int           `json:"failed"`   // without output; their events are missed
	Excluded int           `json:"excluded"` // without reference; not in any score
	People   int           `json:"people"`   // of those scored or failed
	Unnamed  int           `json:"unnamed"`  // recordings whose person is not stated, each counted as one person
	ByReason []ReasonCount `json:"by_reason"`
}

// ReasonCount counts recordings that failed or are excluded for one reason.
type ReasonCount struct {
	Reason string `json:"reason"`
	Count  int    `json:"count"`
}

// count counts the recordings by what became of them.
func (c *cohort) count() Counts {
	n := Counts{In: len(c.recordings), People: len(c.names), ByReason: []ReasonCount{}}
	for i := range c.recordings {
		r := &c.recordings[i]
		switch r.status {
		case Scored:
			n.Scored++
		case Failed:
			n.Failed++
		case Excluded:
			n.Excluded++
			continue
		}
		if r.unnamed {
			n.Unnamed++
		}
	}
	for _, reason := range slices.Sorted(maps.Keys(c.reasons)) {
		n.ByReason = append(n.ByReason, ReasonCount{reason, c.reasons[reason]})
	}
	slices.SortStableFunc(n.ByReason, func(x, y ReasonCount) int { return cmp.Compare(y.Count, x.Count) })
	return n
}
