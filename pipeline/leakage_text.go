package pipeline

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// WriteText writes the report as text.
func (l *Leak) WriteText(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "Telling %d values of %s apart from %d features of %d recordings of %d people\n",
		len(l.Classes), l.By, l.Features, l.Recordings, l.People)
	fmt.Fprintf(t, "  multinomial logistic regression with ridge penalty, C = %g, on standardised features; nulls take the mean\n", l.C)
	fmt.Fprintf(t, "  %d folds by person, seed %d; intervals 95 %%, percentile, bootstrap over people, %d resamples\n", l.Folds, l.Seed, l.Resamples)
	fmt.Fprintf(t, "  %d features left out that are null in most recordings or constant\n\n", l.Dropped)
	fmt.Fprintf(t, "accuracy\t%v\talways naming the largest: %.3f\n", l.Accuracy, l.Largest)
	fmt.Fprintf(t, "balanced accuracy\t%v\tby chance: %.3f\n", l.BalancedAccuracy, 1/float64(len(l.Classes)))
	fmt.Fprintf(t, "area under the curve\t%v\tby chance: 0.500; mean over one against the rest\n\n", l.AUC)
	fmt.Fprintf(t, "%s\trecordings\tpeople\trecall\tarea under the curve\n", l.By)
	for _, c := range l.Classes {
		fmt.Fprintf(t, "%s\t%d\t%d\t%v\t%v\n", c.Name, c.Recordings, c.People, c.Recall, c.AUC)
	}
	fmt.Fprintf(t, "\nmost telling feature\tagainst the rest\tarea under the curve, by itself\n")
	for _, f := range l.Telling {
		fmt.Fprintf(t, "%s\t%s\t%.3f\n", f.Name, f.Class, f.AUC)
	}
	fmt.Fprint(t, "\nWhere the origin of a recording can be told, a classifier trained on these tables together can learn the origin in\n"+
		"place of what the labels mean. Compare labels within each origin, or hold a whole origin out.\n")
	for _, warning := range l.Warnings {
		fmt.Fprintf(t, "warning: %s\n", warning)
	}
	return t.Flush()
}

// String returns the figure with its interval.
func (f Figure) String() string {
	return fmt.Sprintf("%.3f (%.3f–%.3f)", float64(f.Value), float64(f.Low), float64(f.High))
}
