package eval

import (
	"bytes"
	"fmt"
	"io"
)

// WriteText writes c for a reader at a terminal.
func (c *Comparison) WriteText(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "Runs compared at the %v within %g ms on %s of %s; in %%\n\n", c.Rules.Anchor, c.Rules.HeadlineMS,
		number(c.Recordings, "recording", "recordings"), number(c.People, "person", "people"))
	fmt.Fprintf(&b, "%-30s %-22s %8s %8s %6s  %s\n", "", "both sounds", "recall", "precision", "F1", "95 % interval")
	for _, r := range c.Scores {
		if r.Class == Both {
			fmt.Fprintf(&b, "%-30s %-22s %8s %9s %6s  %s\n", r.Run, r.Aggregate.words(), r.Recall.Percent(), r.Precision.Percent(), r.F1.Percent(), bounds(r.Low, r.High))
		}
	}
	for i := range c.Pairs {
		c.Pairs[i].writeText(&b)
	}
	fmt.Fprintln(&b)
	wrap(&b, "", fmt.Sprintf("Differences of F1 in percentage points; intervals by bootstrap over people, the same people drawn for both runs, %d resamples, seed %d; Wilcoxon's signed-rank test over people; p adjusted after Holm over %s.",
		c.Resamples, c.Seed, number(len(c.Pairs), "pair", "pairs")))
	for _, text := range c.Warnings {
		wrap(&b, "warning: ", text)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("comparison: %w", err)
	}
	return nil
}

func (p *Pair) writeText(b *bytes.Buffer) {
	fmt.Fprintf(b, "\n%s − %s\n", p.Second, p.First)
	for _, d := range p.Differences {
		interval := "–"
		if !d.Low.Null() {
			interval = points(d.Low) + " to " + points(d.High)
		}
		fmt.Fprintf(b, "  %-5v %-18s %7s  (%s)\n", d.Class, d.Aggregate.words(), points(d.Difference), interval)
	}
	fmt.Fprintf(b, "  Wilcoxon over %s: p %s, adjusted %s\n", number(p.Test.N+p.Test.Zeros, "person", "people"), pValue(p.Test.P), pValue(p.AdjustedP))
	wrap(b, "  ", p.Words)
}
