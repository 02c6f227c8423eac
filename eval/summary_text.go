package eval

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

// WriteText writes s for a reader at a terminal, at most 100 columns wide but
// for long names of strata and recordings.
func (s *Summary) WriteText(w io.Writer) error {
	var b bytes.Buffer
	s.writeHeadline(&b)
	s.writeSweep(&b)
	s.writeStrata(&b)
	s.writeMeasures(&b)
	s.writeTiming(&b)
	s.writeRules(&b)
	s.writeWarnings(&b)
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("summary of scores: %w", err)
	}
	return nil
}

// rows returns the headline rows of a stratum.
func (s *Summary) rows(stratum string) []Score {
	var rows []Score
	for _, r := range s.Scores {
		if r.Stratum == stratum && r.Anchor == s.Rules.Anchor && r.ToleranceMS == s.Rules.HeadlineMS {
			rows = append(rows, r)
		}
	}
	return rows
}

func (s *Summary) writeHeadline(b *bytes.Buffer) {
	c := &s.Counts
	fmt.Fprintf(b, "Scores at the %v within %g ms: %s of %s; %d scored, %d failed, %d excluded\n\n",
		s.Rules.Anchor, s.Rules.HeadlineMS, number(c.In, "recording", "recordings"), number(c.People, "person", "people"),
		c.Scored, c.Failed, c.Excluded)
	fmt.Fprintf(b, "%-22s %12s %16s %7s  %-13s %8s %7s %7s\n", "in %", "recall (Se)", "precision (PPV)", "F1", "95 % interval", "TP", "FP", "FN")
	for _, r := range s.rows("") {
		line := fmt.Sprintf("%-5v %-16s %12s %16s %7s  %-13s", r.Class, r.Aggregate.words(),
			r.Recall.Percent(), r.Precision.Percent(), r.F1.Percent(), bounds(r.Low, r.High))
		if r.Aggregate == Pooled {
			line += fmt.Sprintf(" %8d %7d %7d", r.TP, r.FP, r.FN)
		}
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
	for _, r := range c.ByReason {
		fmt.Fprintf(b, "  %d × %s\n", r.Count, r.Reason)
	}
}

// words says what a is the mean over.
func (a Aggregate) words() string {
	switch a {
	case PerRecording:
		return "mean, recordings"
	case PerPerson:
		return "mean, people"
	}
	return "pooled"
}

// bounds prints an interval in percent.
func bounds(low, high Ratio) string {
	if low.Null() {
		return "–"
	}
	return low.Percent() + " to " + high.Percent()
}

// writeSweep prints pooled F1 against the tolerance.
func (s *Summary) writeSweep(b *bytes.Buffer) {
	fmt.Fprintf(b, "\nF1 %% pooled, by tolerance in ms\n%-18s", "")
	for _, t := range s.Rules.TolerancesMS {
		fmt.Fprintf(b, " %6g", t)
	}
	fmt.Fprintln(b)
	for anchor := range Anchor(anchors) {
		for _, class := range []Class{Both, S1, S2} {
			fmt.Fprintf(b, "%-5v at the %-7v", class, anchor)
			for _, t := range s.Rules.TolerancesMS {
				fmt.Fprintf(b, " %6s", s.pooledF1(class, anchor, t).Percent())
			}
			fmt.Fprintln(b)
		}
	}
}

// pooledF1 finds the F1 of a pooled row over all recordings.
func (s *Summary) pooledF1(class Class, anchor Anchor, toleranceMS float64) Ratio {
	for i := range s.Scores {
		r := &s.Scores[i]
		if r.Class == class && r.Anchor == anchor && r.ToleranceMS == toleranceMS && r.Aggregate == Pooled && r.Stratum == "" {
			return r.F1
		}
	}
	return null()
}

// writeStrata prints one line a stratum, both sounds pooled, under the name of
// its label.
func (s *Summary) writeStrata(b *bytes.Buffer) {
	label := ""
	for _, r := range s.Scores {
		if r.Stratum == "" || r.Aggregate != Pooled || r.Class != Both {
			continue
		}
		name, value, _ := strings.Cut(r.Stratum, "=")
		if label == "" {
			fmt.Fprintf(b, "\n%-31s %6s %10s %6s  %-13s %8s %7s %7s\n", "Both sounds, pooled, by stratum", "people", "recordings", "F1 %", "95 % interval", "TP", "FP", "FN")
		}
		if name != label {
			label = name
			fmt.Fprintln(b, label)
		}
		fmt.Fprintf(b, "  %-29s %6d %10d %6s  %-13s %8d %7d %7d\n", value, r.People, r.Recordings, r.F1.Percent(), bounds(r.Low, r.High), r.TP, r.FP, r.FN)
	}
	if len(s.NotDivided) > 0 {
		fmt.Fprintf(b, "Not divided by labels of more than %d values: %s\n", MaxStratumValues, strings.Join(s.NotDivided, ", "))
	}
}

// writeMeasures prints what is not a score of events.
func (s *Summary) writeMeasures(b *bytes.Buffer) {
	e := &s.Exchange
	fmt.Fprintf(b, "\nExchanged  %d of %d pairs regardless of class pair S1 with S2; %s flagged\n",
		e.Exchanged, e.PairsAnyClass, number(len(e.Recordings), "recording", "recordings"))
	fmt.Fprintf(b, "Doubled    S1 %d, S2 %d found twice; merged S1 %d, S2 %d found as one\n", e.DoubledS1, e.DoubledS2, e.MergedS1, e.MergedS2)
	fmt.Fprintf(b, "Cycles     %d of %d whole cycles right: %s %%\n", s.Cycles.Right, s.Cycles.Whole, s.Cycles.Share.Percent())
	for _, r := range s.rows("") {
		if w := r.Wilson; w != nil && r.Recordings > 0 {
			fmt.Fprintf(b, "Wilson     %-4v recall %s, precision %s (ignores clusters: too narrow)\n", r.Class,
				bounds(w.Recall[0], w.Recall[1]), bounds(w.Precision[0], w.Precision[1]))
		}
	}
	s.writeAgreement(b)
	s.writeConfusion(b)
}

// writeAgreement prints bias and limits of agreement, each with its interval.
func (s *Summary) writeAgreement(b *bytes.Buffer) {
	for i, a := range s.Rates {
		if i == 0 {
			fmt.Fprintf(b, "\n%-22s %-25s %-25s %s\n", "Predicted − reference", "bias (95 % interval)", "lower limit", "upper limit")
		}
		cell := func(v Ratio, i *Intervals) string {
			low, high := i.Best()
			return fmt.Sprintf("%s (%s to %s)", signed(v), signed(low), signed(high))
		}
		quantity, _, _ := strings.Cut(a.Quantity, ",")
		fmt.Fprintf(b, "%-22s %-25s %-25s %s\n", quantity+", "+a.Unit,
			cell(a.Bias, &a.BiasInterval), cell(a.Lower, &a.LowerInterval), cell(a.Upper, &a.UpperInterval))
	}
	if len(s.Rates) > 0 {
		a := &s.Rates[0]
		fmt.Fprintf(b, "  %s compared; left out: %d of unknown reference, %d of unknown predicted rate\n",
			number(a.Recordings, "recording", "recordings"), a.NoReference, a.NoPrediction)
	}
}

// writeConfusion prints the states over time, each row in percent of the time of
// an annotated state.
func (s *Summary) writeConfusion(b *bytes.Buffer) {
	f := &s.Frames
	fmt.Fprintf(b, "\n%s %% of %.1f s annotated time in the annotated state\n", f.Accuracy.Percent(), f.Total)
	if f.Total == 0 {
		return
	}
	fmt.Fprintf(b, "%-18s", "Annotated, in %")
	for _, state := range f.States {
		fmt.Fprintf(b, " %9s", state)
	}
	fmt.Fprintf(b, " %9s %10s\n", "nothing", "seconds")
	for i, state := range f.States {
		sum := f.Missed[i]
		for _, t := range f.Confusion[i] {
			sum += t
		}
		fmt.Fprintf(b, "%-18s", state)
		for _, t := range append(f.Confusion[i][:], f.Missed[i]) {
			fmt.Fprintf(b, " %9s", ratio(t, sum).Percent())
		}
		fmt.Fprintf(b, " %10.1f\n", sum)
	}
}

// signed prints a difference with one decimal and its sign, or a dash.
func signed(r Ratio) string {
	if r.Null() {
		return "–"
	}
	return fmt.Sprintf("%+.1f", float64(r))
}

func (s *Summary) writeTiming(b *bytes.Buffer) {
	fmt.Fprintf(b, "\n%-25s %7s %7s %6s %7s %7s %7s %7s %7s\n", "Predicted − reference, ms", "pairs", "bias", "SD", "5 %", "25 %", "median", "75 %", "95 %")
	for _, t := range s.Timing {
		sd := "–"
		if !t.SD.Null() {
			sd = fmt.Sprintf("%.1f", float64(t.SD))
		}
		fmt.Fprintf(b, "%-25s %7d %7s %6s %7s %7s %7s %7s %7s\n", t.Place, t.N, signed(t.Bias), sd,
			signed(t.P5), signed(t.P25), signed(t.P50), signed(t.P75), signed(t.P95))
	}
}

func (s *Summary) writeRules(b *bytes.Buffer) {
	r := &s.Rules
	fmt.Fprintln(b, "\nRules")
	for _, line := range []struct{ name, text string }{
		{"matching", r.Matching}, {"scored time", r.ScoredTime}, {"edges", r.Edges}, {"failures", r.Failures},
		{"intervals", fmt.Sprintf("%s; %d resamples, seed %d", r.Intervals, s.Resamples, s.Seed)},
		{"strata", fmt.Sprintf("ratios from %s on; bands of heart rate begin at %s bpm of the reference",
			number(s.MinPeople, "person", "people"), join(r.RateBands))},
	} {
		wrap(b, fmt.Sprintf("  %-12s ", line.name), line.text)
	}
}

func (s *Summary) writeWarnings(b *bytes.Buffer) {
	for i, text := range s.Warnings {
		if i == 0 {
			fmt.Fprintln(b)
		}
		wrap(b, "warning: ", text)
	}
}

// join lists numbers.
func join(values []float64) string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = fmt.Sprintf("%g", v)
	}
	return strings.Join(words, ", ")
}

// wrap writes text in lines of at most 98 columns behind a heading.
func wrap(b *bytes.Buffer, heading, text string) {
	const width = 98
	indent := strings.Repeat(" ", len([]rune(heading)))
	line, empty := heading, true
	for _, word := range strings.Fields(text) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > width {
			fmt.Fprintln(b, strings.TrimRight(line, " "))
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	fmt.Fprintln(b, line)
}
