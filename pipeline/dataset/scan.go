package dataset

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// Prober returns the sampling rate in hertz and the length of an audio file,
// by its path below the data root. Set.ReadFile reads it safely; decoding is
// package audio's work, this package reads text only.
type Prober func(s *Set, path string) (rate int, length time.Duration, err error)

// Scan reads every recording and annotation and returns the inventory and all
// defects. step is called after each recording and may be nil. Scan runs in one
// goroutine; its only error is that of a context that ends.
func (s *Set) Scan(ctx context.Context, probe Prober, step func()) (*Inventory, error) {
	c := newCounter(s)
	for i := range s.Recordings {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("scan of %s stopped at recording %s: %w", s.Layout.Name, s.Recordings[i].ID, err)
		}
		c.add(s, &s.Recordings[i], probe)
		if step != nil {
			step()
		}
	}
	for _, file := range s.references.orphans {
		c.addOrphan(s, file)
	}
	return c.inventory(s), nil
}

// counter builds an Inventory.
type counter struct {
	inv    *Inventory
	people map[string]bool
	rates  map[int]int
	states map[pcg.State]int
	bpm    []float64
	labels []labelCounter

	length, shortest, longest, annotated time.Duration
}

type labelCounter struct {
	name    string
	values  map[string]ValueCount
	seen    map[[2]string]bool // pairs of value and person
	numbers []float64
}

// siteLabel is the name under which sites are counted among the labels.
const siteLabel = "site"

func newCounter(s *Set) *counter {
	c := &counter{inv: &Inventory{}, people: map[string]bool{}, rates: map[int]int{}, states: map[pcg.State]int{}}
	names := []string{}
	if slices.ContainsFunc(s.Recordings, func(r pcg.Recording) bool { return r.Site != "" }) {
		names = append(names, siteLabel)
	}
	for l := range s.Recordings[0].Labels.All() { // Open refuses a set of none
		names = append(names, l.Name)
	}
	for _, n := range names {
		c.labels = append(c.labels, labelCounter{name: n, values: map[string]ValueCount{}, seen: map[[2]string]bool{}})
	}
	return c
}

// add counts one recording.
func (c *counter) add(s *Set, rec *pcg.Recording, probe Prober) {
	inv := c.inv
	inv.Recordings++
	c.people[rec.Person] = true
	for i := range c.labels {
		l := &c.labels[i]
		value := rec.Label(l.name)
		if l.name == siteLabel && rec.Site != "" {
			value = rec.Site
		}
		l.add(value, rec.Person)
	}
	if rec.Unusable != "" { // a defect already
		inv.Unusable++
		return
	}
	rate, length, err := probe(s, rec.Audio)
	if err != nil {
		inv.Unusable++
		inv.Defects = append(inv.Defects, audioBroken.at(rec.Audio, 0, withoutName(err, rec.Audio)).of(rec.ID))
		rate, length = 0, 0
	} else {
		if len(c.rates) == 0 || length < c.shortest {
			c.shortest = length
		}
		c.longest = max(c.longest, length)
		c.length += length
		c.rates[rate]++
		if rate < signal.AnalysisRate {
			inv.Defects = append(inv.Defects, rateLow.at(rec.Audio, 0, rate).of(rec.ID))
		}
	}
	if rec.Reference == "" {
		return
	}
	ref, defects, _ := s.references.read(annotated{rec.ID, rec.Reference, s.Copy.rateOf(rec.Audio, rate), length})
	if ref.Empty() && len(defects) == 0 {
		return
	}
	inv.Annotations++
	inv.Defects = append(inv.Defects, defects...)
	if err == nil && excluded(defects) == nil {
		inv.Annotated++
		c.addReference(&ref)
	}
}

// withoutName returns the text of an error about a file, which a defect names
// already.
func withoutName(err error, file string) string {
	return strings.TrimPrefix(err.Error(), Printable(file)+": ")
}

// addOrphan adds the defects of an annotation without recording. It can be read only
// if its times are in seconds, since no rate is known.
func (c *counter) addOrphan(s *Set, file string) {
	if s.references.rule.Unit != unitSeconds {
		return
	}
	_, defects, _ := s.references.read(annotated{file: file})
	for _, d := range defects {
		d.Action, d.Excludes = annotationUnused.action, false
		c.inv.Defects = append(c.inv.Defects, d)
	}
}

func (c *counter) addReference(ref *pcg.Reference) {
	if bpm, ok := HeartRate(ref); ok {
		c.bpm = append(c.bpm, bpm)
	}
	if n := len(ref.Points); n > 0 {
		c.annotated += ref.Points[n-1].At - ref.Points[0].At
	}
	for _, u := range ref.Unannotated {
		c.annotated -= u.Duration()
	}
	for _, p := range ref.Points {
		c.states[p.Sound]++
	}
	for _, iv := range ref.Intervals {
		c.annotated += iv.Duration()
		c.states[iv.State]++
	}
}

func (l *labelCounter) add(value, person string) {
	v := l.values[value]
	v.Value = value
	v.Recordings++
	if pair := [2]string{value, person}; !l.seen[pair] {
		l.seen[pair] = true
		v.People++
	}
	l.values[value] = v
	if x, err := parseDecimal(value); err == nil {
		l.numbers = append(l.numbers, x)
	}
}

// inventory finishes the counts.
func (c *counter) inventory(s *Set) *Inventory {
	inv, l := c.inv, s.Layout
	inv.Layout, inv.Title, inv.Version, inv.Citation, inv.DOI, inv.Licence = l.Name, l.Title, l.Version, l.Citation, l.DOI, l.Licence
	inv.Reference, inv.Kind = s.ReferenceName, s.ReferenceKind
	for i := range l.References {
		inv.References = append(inv.References, l.References[i].Name)
	}
	if s.folder.links != (LinkCounts{}) {
		inv.Links = &s.folder.links
	}
	if s.Copy != nil {
		inv.Condition = s.Copy.Changes.String()
	}
	inv.People, inv.PersonUnknown = len(c.people), s.PersonUnknown
	inv.Seconds, inv.AnnotatedSeconds = c.length.Seconds(), c.annotated.Seconds()
	inv.ShortestSeconds, inv.LongestSeconds = c.shortest.Seconds(), c.longest.Seconds()
	inv.S1, inv.S2 = c.states[pcg.S1], c.states[pcg.S2]
	inv.Rates = []RateCount{}
	for _, rate := range slices.Sorted(maps.Keys(c.rates)) {
		inv.Rates = append(inv.Rates, RateCount{rate, c.rates[rate]})
	}
	for i := range c.labels {
		numeric := slices.ContainsFunc(l.labels(), func(source labelSource) bool {
			return source.name == c.labels[i].name && source.isNumber(l)
		})
		inv.Labels = append(inv.Labels, c.labels[i].summary(numeric))
	}
	if n := len(c.bpm); n > 0 {
		slices.Sort(c.bpm)
		inv.HeartRate = &RateSummary{Recordings: n, Min: c.bpm[0], Max: c.bpm[n-1]}
		for d := range inv.HeartRate.Deciles {
			inv.HeartRate.Deciles[d] = signal.Quantile(c.bpm, float64(d+1)/10)
		}
	}
	inv.Defects = append(append([]Defect{}, s.Defects...), inv.Defects...)
	sortDefects(inv.Defects)
	counts := map[Kind]int{}
	for i := range inv.Defects {
		counts[inv.Defects[i].Kind]++
	}
	inv.DefectCounts = []KindCount{}
	for _, kind := range slices.Sorted(maps.Keys(counts)) {
		inv.DefectCounts = append(inv.DefectCounts, KindCount{kind, counts[kind]})
	}
	inv.Notes = append(inv.Notes, l.Notes...)
	if s.NotSelected > 0 {
		inv.Listed = inv.Recordings + s.NotSelected
		inv.Notes = append(inv.Notes, fmt.Sprintf("%s not selected: audio and annotations were not read, and %s of tables and file names not listed",
			tabular.Plural(s.NotSelected, "recording is", "recordings are"), tabular.Plural(s.DefectsOfOthers, "defect", "defects")))
	}
	inv.Warnings = append(inv.Warnings, s.Warnings...)
	return inv
}

func (l *labelCounter) summary(numeric bool) LabelSummary {
	sum := LabelSummary{Name: l.name, Numeric: numeric, Missing: l.values[""].Recordings}
	if numeric {
		if n := len(l.numbers); n > 0 {
			slices.Sort(l.numbers)
			sum.Range = &Range{N: n, Min: l.numbers[0], Median: signal.Quantile(l.numbers, 0.5), Max: l.numbers[n-1]}
		}
		return sum
	}
	delete(l.values, "")
	sum.Values = slices.SortedFunc(maps.Values(l.values), func(a, b ValueCount) int { return compareIDs(a.Value, b.Value) })
	return sum
}

// HeartRate returns the heart rate of a reference in beats per minute: 60 s over
// the median time from one S1 to the next. ok is false if no cycle is annotated
// whole: as S1, systole, S2 and diastole with no gap of more than maxRepair, as the
// points S1, S2 and S1, or as two S1 of a reference that marks no S2. An S1 at the
// very start of a recording may have begun before it, so the cycle that it opens is
// not whole.
func HeartRate(ref *pcg.Reference) (bpm float64, ok bool) {
	var cycles []float64 // in nanoseconds
	for c := range pcg.WholeCycles(ref.Intervals, maxRepair) {
		if c[0] > 0 {
			cycles = append(cycles, float64(c.Length()))
		}
	}
	p := ref.Points
	if TraitsOf(ref.Kind).S1Only {
		for i := 1; i < len(p); i++ {
			between := func(u pcg.Interval) bool { return u.Start < p[i].At && u.End > p[i-1].At }
			if !slices.ContainsFunc(ref.Unannotated, between) {
				cycles = append(cycles, float64(p[i].At-p[i-1].At))
			}
		}
		p = nil
	}
	for i := 2; i < len(p); i++ {
		if p[i-2].Sound == pcg.S1 && p[i-1].Sound == pcg.S2 && p[i].Sound == pcg.S1 {
			cycles = append(cycles, float64(p[i].At-p[i-2].At))
		}
	}
	if len(cycles) == 0 {
		return 0, false
	}
	slices.Sort(cycles)
	return float64(time.Minute) / signal.Quantile(cycles, 0.5), true
}
