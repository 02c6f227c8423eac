package eval

import (
	"fmt"
	"math"
	"slices"
	"time"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// AuditReason is a reason to review a reference.
type AuditReason uint8

// The reasons, most serious first.
const (
	// ExchangedByRate: systole lasts longer than diastole at a heart rate where
	// that does not happen.
	ExchangedByRate AuditReason = iota

	// ExchangedBySites: systole and diastole are exchanged, compared with the other
	// recordings of the person.
	ExchangedBySites

	// ExchangedByMethods: methods agree with each other, and with the reference only
	// after S1 and S2 are exchanged in it.
	ExchangedByMethods

	// AgainstAllMethods: methods agree with each other and not with the reference.
	AgainstAllMethods

	// OutOfRange: a heart rate, a sound or a systole outside the limits below.
	OutOfRange

	// BrokenOrder: states that touch do not follow each other in the cycle.
	BrokenOrder

	// Gaps: stretches without annotation between annotated ones.
	Gaps

	// Unusable: the reference can be read in more than one way, or not at all.
	Unusable
)

const auditReasons = 8

var auditReasonNames = [...]string{
	"exchanged, by heart rate", "exchanged, by other sites", "exchanged, by all methods", "against all methods",
	"out of range", "broken order", "gaps", "unusable",
}

// String returns the name of d as it stands in tables.
func (d AuditReason) String() string { return nameOf(auditReasonNames[:], int(d), "AuditReason") }

// MarshalText implements encoding.TextMarshaler.
func (d AuditReason) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// Limits beyond which a reference is listed. None of them is a diagnosis: a value
// outside can be real, or an error of the annotator.
const (
	// systoleExcess is by how much systole must exceed what is expected at the
	// heart rate, see ExpectedSystole, beside being longer than diastole. In adults
	// at rest the standard deviation around the regression is 14 ms (Weissler 1968,
	// from memory): 2.3 of them, which one heart in a hundred exceeds, and 8 ms for
	// sex and the choice of the time from Q to S1.
	systoleExcess = 40 * time.Millisecond

	// siteMargin is by how much the share of systole in the cycle must exceed
	// that of the person's other recordings. By ExpectedSystole it lies between
	// 0.35 at 60 and 0.5 at 145 beats a minute. Ours.
	siteMargin = 0.06

	// Heart rates in beats per minute, from well below the first percentile of
	// adults to above the 99th of infants, 181 (Fleming et al. 2011,
	// doi:10.1016/S0140-6736(10)62226-X).
	lowestRate, highestRate = 40, 220

	// Sounds last from 60 to 150 ms (common practice); these limits are a third of
	// the shortest and twice the longest.
	shortestSound, longestSound = 20 * time.Millisecond, 300 * time.Millisecond

	// From S1 to S2 take 391 ms at 45 beats a minute by QS2 = 546 − 2.1 HR
	// (Weissler, Harris, Schoenfeld 1968, from memory) less 60 ms, and 42 ms, three
	// standard deviations, more; the lower limit is half a cycle at the highest
	// rate, rounded down.
	shortestSystole, longestSystole = 100 * time.Millisecond, 500 * time.Millisecond

	// methodsAgree is F1 over both sounds from which two methods agree, and
	// methodsDiffer that up to which a method differs from the reference. Ours.
	methodsAgree, methodsDiffer = 0.9, 0.7
)

// Finding is one reason to look at one reference, with its evidence.
type Finding struct {
	Recording string        `json:"recording"`
	Person    string        `json:"person"`
	Reason    AuditReason   `json:"reason"`
	At        time.Duration `json:"at_ns"` // of the first place, 0 where all of the recording is meant
	Count     int           `json:"count"` // of places
	Evidence  string        `json:"evidence"`
	Place     string        `json:"place,omitempty"` // file and line of the first place, where they are known
}

// Prediction is what one method says of a recording: intervals, or points where it
// gives no durations.
type Prediction struct {
	Intervals []pcg.Interval
	Points    []pcg.Point
}

// Auditor looks for references that deserve a second look. Recordings are added
// one by one; those of one person are compared in the end.
type Auditor struct {
	scorer *Scorer
	found  []finder // by recording
}

// NewAuditor returns an auditor that places and matches sounds by rules.
func NewAuditor(rules Rules) (*Auditor, error) {
	s, err := NewScorer(rules)
	if err != nil {
		return nil, fmt.Errorf("audit: %w", err)
	}
	return &Auditor{scorer: s}, nil
}

// Add checks the reference of c, also against the predictions of methods for the
// recording, if any. It ignores the prediction in c.
func (a *Auditor) Add(c Case, predictions []Prediction) {
	if c.Reference.Empty() {
		a.addUnusable(&c)
		return
	}
	c.Predicted, c.PredictedPoints, c.PredictsPoints, c.Failed = nil, nil, false, true
	r := a.scorer.Score(&c)
	b := r.Measures.Reference
	f := finder{recording: c.Recording, person: c.Person, systole: ratio(float64(b.Systole), float64(b.CycleLength))}
	f.rate(b)
	a.againstMethods(&f, &c, predictions)
	f.limits(&r)
	f.sequence(c.Reference.Intervals, a.scorer.rules.Gap)
	a.found = append(a.found, f)
}

// addUnusable lists a reference that exists and cannot be used; c says why.
func (a *Auditor) addUnusable(c *Case) {
	if c.Failed || c.Reason == "" || c.Reason == NoReference {
		return
	}
	f := finder{recording: c.Recording, person: c.Person, systole: null()}
	f.add(Unusable, 0, 1, c.Reason)
	a.found = append(a.found, f)
}

// Audit is the list of findings, in the order of recordings.
type Audit struct {
	Rules      RulesSummary   `json:"rules"`
	Recordings int            `json:"recordings"` // with a reference
	Flagged    int            `json:"flagged"`    // with any finding
	ByReason   map[string]int `json:"by_reason"`  // recordings; JSON sorts the keys
	Findings   []Finding      `json:"findings"`
}

// Reasons returns the reasons of all findings, the most serious first.
func (a *Audit) Reasons() []AuditReason {
	var list []AuditReason
	for d := range AuditReason(auditReasons) {
		if a.ByReason[d.String()] > 0 {
			list = append(list, d)
		}
	}
	return list
}

// Audit compares the recordings of each person and returns all findings.
func (a *Auditor) Audit() *Audit {
	people := make(map[string][]int)
	for i, f := range a.found {
		if f.person != "" && !f.systole.Null() {
			people[f.person] = append(people[f.person], i)
		}
	}
	result := &Audit{Rules: a.scorer.rules.summary(), Recordings: len(a.found), ByReason: make(map[string]int), Findings: []Finding{}}
	for i, f := range a.found {
		var others []float64
		for _, j := range people[f.person] {
			if j != i {
				others = append(others, float64(a.found[j].systole))
			}
		}
		f.findings = slices.Clone(f.findings)
		f.againstSites(others)
		slices.SortStableFunc(f.findings, func(x, y Finding) int { return int(x.Reason) - int(y.Reason) })
		if len(f.findings) > 0 {
			result.Flagged++
		}
		for k, found := range f.findings {
			if k == 0 || f.findings[k-1].Reason != found.Reason { // once a recording; they are in order
				result.ByReason[found.Reason.String()]++
			}
		}
		result.Findings = append(result.Findings, f.findings...)
	}
	return result
}

// againstMethods lists a reference from which all methods differ while they
// agree with each other. Where S1 alone is scored the reference does not come from
// the sound, and one method that differs from it is enough.
func (a *Auditor) againstMethods(f *finder, c *Case, predictions []Prediction) {
	s1Only := a.scorer.rules.S1Only
	if len(predictions) == 0 || (len(predictions) == 1 && !s1Only) {
		return
	}
	highest, lowest, swapped := Ratio(0), Ratio(1), Ratio(1)
	for i, p := range predictions {
		if highest = max(highest, a.f1(c, c.Reference, p)); highest > methodsDiffer {
			return
		}
		swapped = min(swapped, a.f1(c, c.Reference, p.exchanged()))
		for _, q := range predictions[:i] {
			lowest = min(lowest, a.f1(c, a.within(c, q), p))
		}
	}
	if s1Only {
		a.againstS1(f, len(predictions), highest, swapped)
		return
	}
	if lowest.Null() || highest.Null() || lowest < methodsAgree {
		return
	}
	if swapped >= methodsAgree {
		f.add(ExchangedByMethods, 0, 1, fmt.Sprintf("%d methods agree with the reference if S1 and S2 are exchanged in it: F1 is %s %% or more, and at most %s %% as it is",
			len(predictions), swapped.Percent(), highest.Percent()))
		return
	}
	f.add(AgainstAllMethods, 0, 1, fmt.Sprintf("%d methods agree with each other (F1 %s %% or more) and not with the reference (F1 at most %s %%)",
		len(predictions), lowest.Percent(), highest.Percent()))
}

// againstS1 lists a reference of S1 from which all methods differ: F1 of S1 is
// highest at most, and swapped at least with S1 and S2 of the predictions exchanged.
func (a *Auditor) againstS1(f *finder, methods int, highest, swapped Ratio) {
	who := tabular.Plural(methods, "method", "methods")
	switch {
	case highest.Null():
	case swapped > highest: // as a recording is flagged in a summary
		f.add(ExchangedByMethods, 0, 1, fmt.Sprintf("S2 of %s lies at S1 of the reference: F1 of S1 is at most %s %%, and %s %% or more with S1 and S2 exchanged in the prediction",
			who, highest.Percent(), swapped.Percent()))
	default:
		f.add(AgainstAllMethods, 0, 1, fmt.Sprintf("F1 of S1 of %s is at most %s %%", who, highest.Percent()))
	}
}

// exchanged returns a prediction with S1 and S2, and systole and diastole,
// exchanged.
func (p *Prediction) exchanged() Prediction {
	x := Prediction{Intervals: slices.Clone(p.Intervals), Points: slices.Clone(p.Points)}
	for i := range x.Intervals {
		x.Intervals[i].State = x.Intervals[i].State.Exchanged()
	}
	for i := range x.Points {
		x.Points[i].Sound = x.Points[i].Sound.Exchanged()
	}
	return x
}

// f1 scores one prediction, all sounds that are scored together, at the headline.
func (a *Auditor) f1(c *Case, reference pcg.Reference, p Prediction) Ratio {
	of := Case{
		Recording: c.Recording, Reference: reference, Length: c.Length,
		Predicted: p.Intervals, PredictsPoints: len(p.Points) > 0, PredictedPoints: p.Points,
	}
	r := a.scorer.Score(&of)
	var t counts
	for _, n := range r.Counts {
		if n.Anchor == of.headlineAnchor(a.scorer.rules.Anchor) && n.Tolerance == a.scorer.rules.Headline {
			t.plus(counts{n.TP, n.FP, n.FN})
		}
	}
	return t.f1()
}

// within returns a prediction as a reference over the annotated time of c, so
// that two methods are compared where the reference is annotated.
func (a *Auditor) within(c *Case, p Prediction) pcg.Reference {
	scored := scoredTime(nil, &c.Reference, a.scorer.rules.Gap, a.scorer.rules.Headline)
	var r pcg.Reference
	for _, at := range p.Points {
		if stretchOf(scored, at.At) >= 0 {
			r.Points = append(r.Points, at)
		}
	}
	for _, iv := range p.Intervals {
		if stretchOf(scored, iv.Centre()) >= 0 {
			r.Intervals = append(r.Intervals, iv)
		}
	}
	return r
}

// finder collects the findings of one recording.
type finder struct {
	recording, person string
	systole           Ratio // its share of the cycle, null with too few cycles
	findings          []Finding
}

func (f *finder) add(d AuditReason, at time.Duration, count int, evidence string) {
	f.findings = append(f.findings, Finding{Recording: f.recording, Person: f.person, Reason: d, At: at, Count: count, Evidence: evidence})
}

// againstSites lists a recording whose share of systole differs from those of the
// person's other recordings as if S1 and S2 were exchanged.
func (f *finder) againstSites(others []float64) {
	if f.systole.Null() || len(others) == 0 {
		return
	}
	slices.Sort(others)
	share, typical := float64(f.systole), signal.Quantile(others, 0.5)
	// Exchanged, the share would mirror that of the others at one half.
	mirrored := math.Abs(1-share-typical) < math.Abs(share-typical)/2
	if share > 0.5 && share-typical >= siteMargin && mirrored {
		f.add(ExchangedBySites, 0, 1, fmt.Sprintf("S1 to S2 takes %.0f %% of the cycle; in %s of the person it takes %.0f %%",
			100*share, tabular.Plural(len(others), "other recording", "other recordings"), 100*typical))
	}
}

// ExpectedSystole returns the time from S1 to S2 expected at a heart rate in
// beats per minute: QS2 = 546 − 2.1 HR ms at rest (Weissler, Harris, Schoenfeld
// 1968, Circulation 37:149, men, from memory) and 480 − 1.4 HR ms during exercise
// (Sugiura 1987, Am J Cardiol 59:1089), which meet near 94 a minute, less 70 ms
// from Q to S1. Children of the same rate have shorter systoles.
func ExpectedSystole(rate float64) time.Duration {
	const fromQ = 70
	return time.Duration((max(546-2.1*rate, 480-1.4*rate) - fromQ) * float64(time.Millisecond))
}

// rate lists a systole longer than diastole, unless the heart rate is so high that
// the two have nearly the same length.
func (f *finder) rate(b Beat) {
	diastole := b.CycleLength - b.Systole
	if b.CycleLength == 0 || b.Systole <= diastole {
		return
	}
	expected := ExpectedSystole(float64(b.Rate()))
	if b.Systole > expected+systoleExcess {
		f.add(ExchangedByRate, 0, 1, fmt.Sprintf("S1 to S2 takes %.0f ms and S2 to S1 %.0f ms; at %.0f beats per minute, about %.0f ms from S1 to S2 are expected",
			milliseconds(b.Systole), milliseconds(diastole), float64(b.Rate()), milliseconds(expected)))
	}
}

// limits lists durations outside the limits.
func (f *finder) limits(r *Result) {
	if rate := r.Measures.Reference.Rate(); rate < lowestRate || rate > highestRate {
		f.add(OutOfRange, 0, 1, fmt.Sprintf("heart rate %.0f beats per minute", float64(rate)))
	}
	var sound, systole places
	for i := range r.Matches {
		m := &r.Matches[i]
		length := m.End - m.Start
		if m.Outcome != Cut && !r.CentreOnly && (length < shortestSound || length > longestSound) {
			sound.note(m.Start, "sound of %.0f ms", milliseconds(length))
		}
		if i+1 == len(r.Matches) {
			break
		}
		next := &r.Matches[i+1]
		length = next.Anchor - m.Anchor
		follows := m.Class == S1 && next.Class == S2 && m.Stretch >= 0 && m.Stretch == next.Stretch
		if follows && (length < shortestSystole || length > longestSystole) {
			systole.note(m.Anchor, "%.0f ms from S1 to S2", milliseconds(length))
		}
	}
	f.addPlaces(OutOfRange, &sound)
	f.addPlaces(OutOfRange, &systole)
}

// sequence lists states that touch and do not follow each other, and stretches that
// are not annotated.
func (f *finder) sequence(intervals []pcg.Interval, gap time.Duration) {
	var broken, gaps places
	for i := 1; i < len(intervals); i++ {
		a, b := intervals[i-1], intervals[i]
		switch space := b.Start - a.End; {
		case space > gap:
			gaps.note(a.End, "no annotation for %.0f ms", milliseconds(space))
		case b.State != a.State.Next():
			broken.note(b.Start, "%v follows %v", b.State, a.State)
		}
	}
	f.addPlaces(BrokenOrder, &broken)
	f.addPlaces(Gaps, &gaps)
}

// places counts the places of one kind in a recording, and describes the first.
type places struct {
	count    int
	at       time.Duration
	evidence string
}

func (p *places) note(at time.Duration, format string, values ...any) {
	if p.count == 0 {
		p.at, p.evidence = at, fmt.Sprintf(format, values...)
	}
	p.count++
}

// addPlaces adds a finding if there is any place.
func (f *finder) addPlaces(reason AuditReason, p *places) {
	if p.count > 0 {
		f.add(reason, p.at, p.count, fmt.Sprintf("%s at %.3f s", p.evidence, p.at.Seconds()))
	}
}
