package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newFit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "fit --data DIR --layout NAME --method NAME --model-out FILE",
		Short: "Estimate the parameters of a method from annotated recordings",
		Long: `Estimates the parameters of a method, such as its emissions, the priors of the
states and the laws of their durations, from the recordings that have annotated
intervals, and writes a model file for run --model. The file names the data set,
the people learnt from, the options and the date, and carries a digest; run
refuses to score a model on people that it was fitted on.

The same recordings, options, date and program give the same file byte for byte.
The date is today's, or that of SOURCE_DATE_EPOCH, or what --date says.

When interrupted, a method that learns by steps writes the best it has so far,
with a remark in the file. With --checkpoint it goes on from where it stopped,
to the same result as if it had not been.`,
		Example: `  phonocycle fit --data circor --layout circor --method logistic-hsmm --model-out my-model.json
  phonocycle crossval --data circor --layout circor --method logistic-hsmm --out cv
  phonocycle fit --data circor --layout circor --method logistic-hsmm --cross-validated cv --model-out my-model.json`,
	}
	flags := addSourceFlags(cmd).addMethodFlags().addFitFlags()
	flags.addWorkersFlag()
	var target pipeline.FitTarget
	cmd.Flags().StringVar(&target.Model, "model-out", "", "model `file` to write")
	cmd.Flags().StringVar(&target.Date, "date", "", "`date` to write into the model, as 2026-02-03")
	cmd.Flags().StringVar(&target.CrossValidated, "cross-validated", "", "`folder` that crossval wrote, whose score the model carries")
	cmd.Flags().StringVar(&target.Checkpoint, "checkpoint", "", "`file` that a long fit writes as it goes and continues from if it is there")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c, err := flags.config()
		if err != nil {
			return err
		}
		if target.Model == "" {
			return usageError{errors.New("no file for the model: name one with --model-out")}
		}
		if target.Date, err = fitDate(target.Date); err != nil {
			return usageError{err}
		}
		report, err := pipeline.Fit(cmd.Context(), c, target, newProgress(cmd.ErrOrStderr()))
		if report != nil {
			printFit(cmd.OutOrStdout(), report, target.Model)
		}
		if errors.Is(err, context.Canceled) && report != nil {
			return fmt.Errorf("interrupted; %s holds the best so far: %w", target.Model, err)
		}
		if err == nil && report.Failed() > 0 {
			return errPartly
		}
		return err
	}
	return cmd
}

// fitDate returns the date to write into a model: the one given, that of the
// environment variable by which reproducible builds set the clock, or today's.
func fitDate(given string) (string, error) {
	if given != "" {
		if _, err := time.Parse(time.DateOnly, given); err != nil {
			return "", fmt.Errorf("date %q: write it as 2026-02-03", given)
		}
		return given, nil
	}
	now := time.Now()
	if epoch := os.Getenv("SOURCE_DATE_EPOCH"); epoch != "" {
		seconds, err := strconv.ParseInt(epoch, 10, 64)
		if err != nil {
			return "", fmt.Errorf("SOURCE_DATE_EPOCH is %q: it is a number of seconds", epoch)
		}
		now = time.Unix(seconds, 0)
	}
	return now.UTC().Format(time.DateOnly), nil
}

// printFit says what a model was fitted to, and what was left out.
func printFit(w io.Writer, r *pipeline.FitReport, path string) {
	m := r.Model
	fmt.Fprintf(w, "%s fitted to %d recordings of %d people; %.1f s\n", m.Method, m.Recordings, len(m.People), r.Elapsed.Seconds())
	if m.Remark != "" {
		fmt.Fprintln(w, "warning:", m.Remark)
	}
	printProblems(w, r.Left)
	if s := m.Score; s != nil {
		fmt.Fprintf(w, "Cross-validated in %d folds by person: F1 %.1f %% (%.1f–%.1f) within %g ms of the %s\n",
			s.Folds, 100*s.F1, 100*s.Low, 100*s.High, s.ToleranceMS, s.Anchor)
	}
	fmt.Fprintf(w, "\nWritten:\n  %s\n\n%s\n", path, caution)
}
