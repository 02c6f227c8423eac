package eval

import (
	"bytes"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// Statistics are what a summary says. Each field is a [statistic], under its name
// in JSON, and printed in this order: a new one is a field here and the file of
// its type.
type Statistics struct {
	Scores   Scores       `json:"scores"`
	Exchange Exchange     `json:"exchange"`
	Cycles   Cycles       `json:"cycles"`
	Frames   FrameSummary `json:"frames"`
	Timing   Timing       `json:"timing"`
	Rates    Rates        `json:"rates"`
}

// list returns the statistics in their order.
func (s *Statistics) list() []statistic {
	var list []statistic
	for fields, i := reflect.ValueOf(s).Elem(), 0; i < fields.NumField(); i++ {
		list = append(list, fields.Field(i).Addr().Interface().(statistic))
	}
	return list
}

// Summary is what one quotes of a run. Ratios are fractions of 1 and null
// where undefined.
type Summary struct {
	Rules      RulesSummary `json:"rules"`
	Provenance Provenance   `json:"provenance,omitzero"` // of the plan by which the states were made
	Counts     Counts       `json:"counts"`
	Statistics
	NotDivided  []string `json:"labels_not_divided,omitempty"` // labels with too many values for strata
	Warnings    []string `json:"warnings"`
	Resamples   int      `json:"resamples"`
	Seed        uint64   `json:"seed"`
	Confidence  float64  `json:"confidence"`
	MinPeople   int      `json:"minimum_people"`
	HeadlineRow Score    `json:"headline"` // both sounds, or S1 where it is scored alone, pooled, all recordings
}

// Accumulator accumulates the results of recordings. Beside what each statistic
// accumulates it keeps the headline counts of each recording, but no events: some
// 100 bytes per recording and 300 per person. The intervals take 400 more per
// person while they are computed.
//
// Results are to be added in one order, that of the recordings.
type Accumulator struct {
	cohort
	statistics []accumulator
}

// NewAccumulator returns an accumulator of results that were scored by rules.
func NewAccumulator(rules Rules, options Options) *Accumulator {
	rules.Tolerances = slices.Clone(rules.Tolerances)
	a := &Accumulator{cohort: cohort{
		rules: rules, options: options.withDefaults(), number: make(map[string]int32), reasons: make(map[string]int),
	}}
	for _, s := range new(Statistics).list() {
		a.statistics = append(a.statistics, s.accumulator(&rules))
	}
	return a
}

// Grow makes room for more results, which halves the memory that adding them
// takes.
func (a *Accumulator) Grow(results int) { a.recordings = slices.Grow(a.recordings, results) }

// Add adds one result. It keeps no reference to the rows of r.
func (a *Accumulator) Add(r *Result) {
	rec := a.add(r)
	if r.Status == Excluded {
		return
	}
	for _, s := range a.statistics {
		s.add(rec, r)
	}
}

// Summary sums up what was added. It may be called again after more was added.
func (a *Accumulator) Summary() *Summary {
	s := &Summary{
		Rules:      a.rules.summary(),
		Counts:     a.count(),
		Warnings:   []string{},
		Resamples:  a.options.Resamples,
		Seed:       a.options.Seed,
		Confidence: confidence,
		MinPeople:  a.options.MinPeople,
	}
	warn := func(format string, values ...any) { s.Warnings = append(s.Warnings, fmt.Sprintf(format, values...)) }
	a.warn(&s.Counts, warn)
	for i, statistic := range s.list() {
		a.statistics[i].estimate(&a.cohort, statistic, warn)
	}
	s.HeadlineRow = s.Scores[0]
	_, s.NotDivided = a.strata.ordered(a.options.Strata)
	return s
}

// warn says what a reader of any statistic should know.
func (c *cohort) warn(n *Counts, warn func(format string, values ...any)) {
	if n.Scored+n.Failed == 0 {
		warn("no recording has a reference annotation: nothing is scored")
		return
	}
	if n.Failed > 0 {
		warn("%s without output: all reference events in them count as missed", tabular.Plural(n.Failed, "recording", "recordings"))
	}
	if n.Excluded > 0 {
		warn("%s without a usable reference: not in any score", tabular.Plural(n.Excluded, "recording", "recordings"))
	}
	if n.Unnamed > 0 {
		warn("the person of %s is not stated: each recording counts as another person, and intervals are too narrow if that is wrong",
			tabular.Plural(n.Unnamed, "recording", "recordings"))
	}
	all := c.group(-1)
	if all.people() > 0 && all.recordings == all.people() {
		warn("each person has one recording: the means over people and over recordings are the same")
	}
	if all.people() < 2 {
		warn("no interval can be given from fewer than two people")
	} else if text := fewPeopleWarning("the errors", effectivePeople(all.errors()), all.people()); text != "" {
		warn("%s", text)
	}
	if k := n.Scored + n.Failed - all.recordings; k > 0 {
		warn("%s with points, which have a centre only: not in the scores at the %v", tabular.Plural(k, "recording", "recordings"), c.rules.Anchor)
	}
	if c.allCentre() && !c.rules.S1Only { // else the rules say so
		warn("reference or prediction marks points: onsets, offsets, boundaries and states over time are left out")
	}
	if c.options.Resamples < minResamples {
		warn("%s", fewResamplesWarning(c.options.Resamples))
	}
}

// basis returns what the tables say of how s was made.
func (s *Summary) basis() *basis { return &basis{&s.Rules, &s.Counts, s.Resamples, &s.Provenance} }

// Tables returns the statistics as tables, in their order.
func (s *Summary) Tables() []tabular.Table {
	var list []tabular.Table
	for _, statistic := range s.list() {
		for _, t := range statistic.tables(s.basis()) {
			if len(t.Rows) > 0 {
				list = append(list, t)
			}
		}
	}
	return list
}

// MadeBy says for a caption how the scores arose, and how many recordings failed;
// empty where that is not known.
func (s *Summary) MadeBy() string {
	words := s.Provenance.Words()
	if words == "" {
		return ""
	}
	return fmt.Sprintf("Segmented by %s; %d of %s failed.", words, s.Counts.Failed,
		tabular.Plural(s.Counts.Scored+s.Counts.Failed, "recording", "recordings"))
}

// WriteTable writes the scores for a paper: all averages over all recordings,
// then for each stratum both sounds pooled.
func (s *Summary) WriteTable(w io.Writer, format tabular.Format) error {
	t := s.Scores.paperTable(s.basis())
	t.AddNote(s.MadeBy())
	return t.Write(w, format)
}

// WriteText writes s for a reader at a terminal, at most 100 columns wide but
// for long names of strata and recordings.
func (s *Summary) WriteText(w io.Writer) error {
	var b bytes.Buffer
	c := &s.Counts
	fmt.Fprintf(&b, "%s of %s: %d scored, %d failed, %d excluded\n",
		tabular.Plural(c.In, "recording", "recordings"), tabular.Plural(c.People, "person", "people"), c.Scored, c.Failed, c.Excluded)
	if words := s.Provenance.Words(); words != "" {
		tabular.Wrap(&b, "", "Segmented by "+words)
	}
	const reasons = 5 // that are printed; the most frequent come first
	for _, r := range c.ByReason[:min(reasons, len(c.ByReason))] {
		fmt.Fprintf(&b, "  %d × %s\n", r.Count, r.Reason)
	}
	if more := len(c.ByReason) - reasons; more > 0 {
		fmt.Fprintf(&b, "  … and %s; scan counts what is wrong with a data set by kind and says how to correct it\n", tabular.Plural(more, "more reason", "more reasons"))
	}
	if c.Scored+c.Failed == 0 { // tables without a number, and the warning says why
		return writeText(w, &b, s.Warnings)
	}
	writeTables(&b, s.Tables())
	if len(s.NotDivided) > 0 {
		fmt.Fprintf(&b, "\nLabels of more than %d values give no strata: %s\n", maxStratumValues, strings.Join(s.NotDivided, ", "))
	}
	s.writeRules(&b)
	writeLines(&b, "Provenance", s.Provenance.Details())
	return writeText(w, &b, s.Warnings)
}

// writeTables writes tables as text, with an empty line before each.
func writeTables(b *bytes.Buffer, tables []tabular.Table) {
	for i := range tables {
		if b.Len() > 0 {
			b.WriteByte('\n')
		}
		_ = tables[i].Write(b, tabular.Text) // a bytes.Buffer takes all
	}
}

// writeText writes text and the warnings that belong to it.
func writeText(w io.Writer, b *bytes.Buffer, warnings []string) error {
	for i, text := range warnings {
		if i == 0 {
			fmt.Fprintln(b)
		}
		tabular.Wrap(b, "warning: ", text)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (s *Summary) writeRules(b *bytes.Buffer) {
	r := &s.Rules
	writeLines(b, "Rules", append(r.Words(), []Rule{
		{"Intervals", fmt.Sprintf("%s; %d resamples, seed %d", r.Intervals, s.Resamples, s.Seed)},
		{"Strata", fmt.Sprintf("ratios from %s on; bands of heart rate begin at %s bpm of the reference",
			tabular.Plural(s.MinPeople, "person", "people"), strings.Trim(strings.Join(strings.Fields(fmt.Sprint(r.RateBands)), ", "), "[]"))},
	}...))
}

// writeLines writes named lines under a title, nothing where there are none.
func writeLines(b *bytes.Buffer, title string, lines []Rule) {
	for i, line := range lines {
		if i == 0 {
			fmt.Fprintln(b, "\n"+title)
		}
		tabular.Wrap(b, fmt.Sprintf("  %-12s ", strings.ToLower(line.Name)), line.Text)
	}
}
