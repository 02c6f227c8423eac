package eval

import (
	"fmt"
	"io"
)

// WriteTable writes the scores at the headline for a paper: all averages over
// all recordings, then for each stratum both sounds pooled.
func (s *Summary) WriteTable(w io.Writer, format TableFormat) error {
	r := &s.Rules
	t := paperTable{
		title: fmt.Sprintf("Scores at the %v within %g ms", r.Anchor, r.HeadlineMS),
		note: fmt.Sprintf("Figures in %%, with 95 %% intervals by bootstrap over people (%d resamples). Recall is sensitivity, precision positive predictive value. %s.",
			s.Resamples, sentence(r.Matching)),
		columns: []paperColumn{
			{name: "Recordings of", words: true}, {name: "Sounds", words: true}, {name: "Average", words: true}, {name: "People"}, {name: "Recordings"},
			{name: "Recall", interval: true}, {name: "Precision", interval: true}, {name: "F1", interval: true},
		},
	}
	for i := range s.Scores {
		row := &s.Scores[i]
		if row.Anchor != r.Anchor || row.ToleranceMS != r.HeadlineMS || (row.Stratum != "" && (row.Aggregate != Pooled || row.Class != Both)) {
			continue
		}
		t.rows = append(t.rows, row.paperRow())
	}
	return t.write(w, format)
}

// paperRow returns a row of scores as WriteTable has it.
func (s *Score) paperRow() []paperCell {
	stratum := s.Stratum
	if stratum == "" {
		stratum = "all"
	}
	var none RatioIntervals
	none.Recall, none.Precision, none.F1 = noIntervals(), noIntervals(), noIntervals()
	intervals := s.Intervals
	if intervals == nil {
		intervals = &none
	}
	percent := func(v Ratio, i *Intervals) paperCell {
		low, high := i.Best()
		return figure(Ratio.Percent, v, low, high)
	}
	return []paperCell{
		word("%s", stratum), word("%v", s.Class), word("%s", s.Aggregate.words()), word("%d", s.People), word("%d", s.Recordings),
		percent(s.Recall, &intervals.Recall), percent(s.Precision, &intervals.Precision), percent(s.F1, &intervals.F1),
	}
}

func noIntervals() Intervals { return Intervals{noBounds(), noBounds()} }

// WriteTable writes the paired differences for a paper, both sounds together.
func (c *Comparison) WriteTable(w io.Writer, format TableFormat) error {
	t := paperTable{
		title: fmt.Sprintf("Differences of F1 at the %v within %g ms on %s of %s", c.Rules.Anchor, c.Rules.HeadlineMS,
			number(c.Recordings, "recording", "recordings"), number(c.People, "person", "people")),
		note: fmt.Sprintf("F1 in %%; differences, second minus first, in percentage points with 95 %% intervals by bootstrap over people (%d resamples). "+
			"p by Wilcoxon's signed-rank test over people, adjusted after Holm over %s.", c.Resamples, number(len(c.Pairs), "pair", "pairs")),
		columns: []paperColumn{
			{name: "First", words: true}, {name: "Second", words: true}, {name: "Average", words: true}, {name: "F1 of first"}, {name: "F1 of second"},
			{name: "Difference", interval: true}, {name: "p"}, {name: "Adjusted p"}, {name: "Better", words: true},
		},
	}
	for i := range c.Pairs {
		p := &c.Pairs[i]
		for aggregate := range Aggregate(aggregates) {
			d := p.difference(Both, aggregate)
			row := []paperCell{
				word("%s", p.First), word("%s", p.Second), word("%s", aggregate.words()), word("%s", d.First.Percent()), word("%s", d.Second.Percent()),
				figure(points, d.Difference, d.Low, d.High), {}, {}, {},
			}
			if aggregate == PerPerson { // what is tested
				better := p.Better
				if better == "" {
					better = "not shown"
				}
				row[6], row[7], row[8] = word("%s", pValue(p.Test.P)), word("%s", pValue(p.AdjustedP)), word("%s", better)
			}
			t.rows = append(t.rows, row)
		}
	}
	return t.write(w, format)
}

// WriteTable writes all findings.
func (a *Audit) WriteTable(w io.Writer, format TableFormat) error {
	t := paperTable{
		title: fmt.Sprintf("References that deserve a second look: %d of %d", a.Doubted, a.Recordings),
		note:  "A finding is a reason to look, not a proof of a wrong reference.",
		columns: []paperColumn{
			{name: "Recording", words: true}, {name: "Person", words: true}, {name: "Doubt", words: true}, {name: "At, s"}, {name: "Places"},
			{name: "Evidence", words: true}, {name: "File and line", words: true},
		},
	}
	for _, f := range a.Findings {
		t.rows = append(t.rows, []paperCell{
			word("%s", f.Recording), word("%s", f.Person), word("%v", f.Doubt), word("%.3f", f.At.Seconds()), word("%d", f.Count),
			word("%s", f.Evidence), word("%s", f.Place),
		})
	}
	return t.write(w, format)
}

// sentence begins text with a capital.
func sentence(text string) string {
	if text == "" || text[0] < 'a' || text[0] > 'z' {
		return text
	}
	return string(text[0]-'a'+'A') + text[1:]
}
