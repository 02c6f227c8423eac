// Package choose picks recordings of a run by their labels, heart rate, quality and
// score, as for a lecture or a spot check, and says of each in words why it is there.
//
// The heart rate is that of the states that were measured, or else the estimate of the
// method. The F1 of a recording counts S1 and S2 together, at the tolerance and the
// anchor of the headline. A recording is clean if less than 0.1 % of its samples are
// clipped and less than 5 % of its half seconds hold a click; among clean ones, and then
// among the others, the cleaner one is that whose S1 and S2 stand further out of systole
// and diastole (column sound_to_pause_db). A murmur fills these: compare only recordings
// that are alike in it. The bounds are ours.
package choose

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"phonocycle/eval"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/table/export"
)

// Options say which recordings are chosen. All conditions must hold.
type Options struct {
	Where []export.Condition // on columns of the table recordings
	Rate  Range              // of the heart per minute
	Score Range              // F1 in percent
	Order Order
	Most  int // recordings; 0 is all
}

// Order says which recordings come first.
type Order int

// The orders.
const (
	ByID Order = iota
	Cleanest
	Best  // by F1
	Worst // by F1
)

// Choice is the recordings of a run that were chosen.
type Choice struct {
	Run        string       `json:"run"`
	Of         int          `json:"of"`    // recordings of the run
	Asked      []string     `json:"asked"` // conditions and order in words
	Score      string       `json:"score,omitempty"`
	Recordings []*Recording `json:"recordings"`
	Warnings   []string     `json:"warnings"`
}

// Recording is one that was chosen. What is not known of it is null.
type Recording struct {
	ID      string     `json:"recording"`
	DataSet string     `json:"data_set"`
	Person  string     `json:"person"`
	Site    string     `json:"site,omitempty"`
	Values  []string   `json:"values,omitempty"` // of the columns in the conditions, as "murmur Absent"
	Rate    eval.Ratio `json:"heart_rate_per_min"`
	Clean   bool       `json:"clean"`
	F1      eval.Ratio `json:"f1"`

	AbovePauses eval.Ratio `json:"sound_to_pause_db"`
	Clicks      eval.Ratio `json:"clicks_share"`
	Clipped     eval.Ratio `json:"clipped_share"`
}

// Choose picks recordings of the run in folder dir.
func Choose(dir string, o Options) (*Choice, error) {
	plan, err := rundir.ReadPlan(dir)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: name a folder that run, crossval or extract wrote", dir, rundir.PlanFile)
	}
	folder := &compare.Folder{Dir: dir, Plan: plan}
	rules, err := folder.Rules()
	if err != nil {
		return nil, err
	}
	scores, err := readScores(dir, &rules)
	if err != nil {
		return nil, err
	}
	if scores == nil && (o.Score != Range{} || o.Order == Best || o.Order == Worst) {
		return nil, fmt.Errorf("folder %s has no scores: score it first, with score --states", dir)
	}
	c := &Choice{Run: dir, Asked: o.words(), Warnings: []string{}}
	if scores != nil {
		sounds := "S1 and S2"
		if rules.S1Only {
			sounds = "S1"
		}
		c.Score = fmt.Sprintf("F1 is of %s within %g ms at the %s, against the reference %s", sounds, rules.Headline.Seconds()*1000, rules.Anchor, plan.Reference)
	}
	if err := c.read(dir, &o, scores); err != nil {
		return nil, err
	}
	slices.SortStableFunc(c.Recordings, o.Order.compare)
	if o.Most > 0 {
		if n := len(c.Recordings); n < o.Most {
			c.Warnings = append(c.Warnings, fmt.Sprintf("only %d of the %d asked for fulfil the conditions", n, o.Most))
		}
		c.Recordings = c.Recordings[:min(o.Most, len(c.Recordings))]
	}
	return c, nil
}

// read reads the recordings that fulfil all conditions.
func (c *Choice) read(dir string, o *Options, scores map[string]counts) error {
	parts := table.PartsOf[table.Recording](dir)
	r, err := table.OpenParts[table.Recording](parts)
	if err != nil {
		return err
	}
	filter, err := export.NewFilter(parts.Dir, r, o.Where)
	if err != nil {
		return err
	}
	measures, err := measuresOf(r.Columns(), o)
	if err != nil {
		return fmt.Errorf("folder %s: %w", dir, err)
	}
	var left funnel
	for record, err := range r.Rows() {
		if err != nil {
			return err
		}
		c.Of++
		holds := filter.Holds(&record)
		if record.Row.Outcome != table.Done {
			continue
		}
		left.segmented++
		if !holds {
			continue
		}
		left.where++
		chosen := measures.of(&record)
		chosen.Values = filter.Values(&record)
		if !o.Rate.holds(float64(chosen.Rate)) {
			continue
		}
		left.rate++
		if s, ok := scores[chosen.ID]; ok {
			chosen.F1 = eval.F1(s.tp, s.fp, s.fn)
		}
		if o.Score.holds(100*float64(chosen.F1)) && !o.Order.key(chosen).Null() {
			c.Recordings = append(c.Recordings, chosen)
		}
	}
	if err := filter.Err(); err != nil {
		return err
	}
	if len(c.Recordings) == 0 {
		return fmt.Errorf("no recording of %s fulfils all that is asked: %s", dir, left.words(o))
	}
	return nil
}

// funnel counts the recordings that fulfil what is asked so far.
type funnel struct{ segmented, where, rate int }

// words says what leaves how many recordings.
func (f *funnel) words(o *Options) string {
	words := []string{fmt.Sprintf("%d are segmented", f.segmented)}
	if len(o.Where) > 0 {
		words = append(words, fmt.Sprintf("%d of them fulfil --where", f.where))
	}
	if o.Rate != (Range{}) {
		words = append(words, fmt.Sprintf("%d of them have the heart rate", f.rate))
	}
	if o.Score != (Range{}) || o.Order != ByID {
		words = append(words, "none of them has the score or the measures that are asked for")
	}
	return strings.Join(words, ", ")
}

// words says what the options ask for.
func (o *Options) words() []string {
	var words []string
	for i := range o.Where {
		words = append(words, o.Where[i].String())
	}
	if o.Rate != (Range{}) {
		words = append(words, o.Rate.words("beats per minute"))
	}
	if o.Score != (Range{}) {
		words = append(words, "F1 "+o.Score.words("%"))
	}
	if order := map[Order]string{Cleanest: "the %d cleanest", Best: "the %d with the best F1", Worst: "the %d with the worst F1"}[o.Order]; order != "" {
		words = append(words, fmt.Sprintf(order, o.Most))
	}
	return words
}

// compare orders two recordings, which come sorted by id.
func (o Order) compare(a, b *Recording) int {
	if o == Cleanest && a.Clean != b.Clean {
		if a.Clean {
			return -1
		}
		return 1
	}
	return cmp.Compare(o.key(b), o.key(a))
}

// key is larger for recordings that come first; NaN where the place is not known.
func (o Order) key(r *Recording) eval.Ratio {
	switch o {
	case Cleanest:
		return r.AbovePauses
	case Best:
		return r.F1
	case Worst:
		return -r.F1
	}
	return 0
}

// Bounds of a clean recording.
const (
	mostClipped = 0.001 // share of samples
	mostClicks  = 0.05  // share of half seconds
)

// measures says where among the features of a table those stand that are used here,
// −1 for none.
type measures struct{ rate, abovePauses, clicks, clipped int }

// measuresOf finds the features. Where the table has none, what needs them is refused.
func measuresOf(columns []table.Column, o *Options) (*measures, error) {
	at := map[string]int{}
	for _, c := range columns {
		if c.Kind == table.Float {
			at[c.Name] = len(at)
		}
	}
	find := func(name string) int {
		if i, ok := at[name]; ok {
			return i
		}
		return -1
	}
	m := &measures{find("heart_rate_per_min"), find("sound_to_pause_db"), find("recording_spike_share"), find("raw_clipped_share")}
	if o.Order == Cleanest && (m.abovePauses < 0 || m.clicks < 0 || m.clipped < 0) {
		return nil, errors.New("it has no features, which say how clean a recording is: name one that run, crossval or extract wrote")
	}
	return m, nil
}

// of describes a recording.
func (m *measures) of(record *table.Record[table.Recording]) *Recording {
	value := func(i int) eval.Ratio {
		if i < 0 {
			return eval.Ratio(math.NaN())
		}
		return eval.Ratio(record.Values.Floats[i])
	}
	row := &record.Row
	r := &Recording{ID: row.Recording, DataSet: row.DataSet, Person: row.Person, Site: row.Site, Rate: value(m.rate),
		AbovePauses: value(m.abovePauses), Clicks: value(m.clicks), Clipped: value(m.clipped), F1: eval.Ratio(math.NaN())}
	if r.Rate.Null() {
		r.Rate = eval.Ratio(row.HeartRate)
	}
	r.Clean = r.Clicks < mostClicks && r.Clipped < mostClipped
	return r
}

// words says why a recording is there.
func (r *Recording) words() string {
	words := slices.Clone(r.Values)
	known := func(x eval.Ratio, format string, factor float64) {
		if !x.Null() {
			words = append(words, fmt.Sprintf(format, factor*float64(x)))
		}
	}
	known(r.Rate, "%.0f beats per minute", 1)
	known(r.AbovePauses, "sounds %.1f dB above the pauses", 1)
	if r.Clicks >= mostClicks {
		known(r.Clicks, "clicks in %.0f %% of its half seconds", 100)
	}
	if r.Clipped >= mostClipped {
		known(r.Clipped, "%.1f %% clipped", 100)
	}
	known(r.F1, "F1 %.1f %%", 100)
	return strings.Join(words, "; ")
}
