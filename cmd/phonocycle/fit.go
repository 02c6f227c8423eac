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

	"phonocycle/pipeline/train"
)

func newFit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "fit --data DIR --layout NAME --method NAME --model-out FILE",
		Short: "Estimate the parameters of a method from annotated recordings",
		Long: `Estimates the parameters of a method from the recordings that have annotated
intervals, and writes them to a model file for run --model. The file also holds
the data set, the people that the model was fitted to, the options, the date and a
digest. By default run refuses to score a model on people that it was fitted to.

The same recordings, options, date and program give the same file, byte for byte.
The date is that of --date, else that of the environment variable
SOURCE_DATE_EPOCH, else today's.

If a long fit is interrupted, it writes the best model so far and marks it in the
file. With --checkpoint an interrupted fit can continue. The result is the same as
without the interruption.`,
		Example: `  phonocycle fit --data circor --layout circor --method logistic-hsmm --model-out my-model.json
  phonocycle crossval --data circor --layout circor --method logistic-hsmm --out cv
  phonocycle fit --data circor --layout circor --method logistic-hsmm --cross-validated cv --model-out my-model.json`,
	}
	flags := addSourceFlags(cmd).addSelectionFlags().addReferenceFlag().addChannelFlag().addMethodFlag().addFitFlags()
	flags.addFoldSeedFlag()
	flags.addUnreadTablesFlag()
	flags.addWorkersFlag()
	var target train.Target
	cmd.Flags().StringVar(&target.Model, "model-out", "", "model `file` to write")
	cmd.Flags().StringVar(&target.Date, "date", "", "`date` of the model, such as 2026-02-03")
	cmd.Flags().StringVar(&target.CrossValidated, "cross-validated", "", "`folder` that crossval wrote; its score goes into the model file")
	cmd.Flags().StringVar(&target.Checkpoint, "checkpoint", "", "`file` to save a long fit to; if it exists, the fit continues from it")
	addOverwriteFileFlag(cmd.Flags(), &target.Overwrite)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c, err := flags.config()
		if err != nil {
			return err
		}
		if target.Model == "" {
			return usageError{errors.New("no model file to write: give one with --model-out")}
		}
		if err := checkOutside(c.Inputs, target.Model, target.Checkpoint); err != nil {
			return err
		}
		if target.Date, err = fitDate(target.Date); err != nil {
			return usageError{err}
		}
		report, err := train.Fit(cmd.Context(), c, target, newProgress(cmd.ErrOrStderr()))
		if report != nil {
			printFit(cmd.OutOrStdout(), report, target.Model)
		}
		if errors.Is(err, context.Canceled) && report != nil {
			return fmt.Errorf("interrupted; %s holds the best model so far: %w", target.Model, err)
		}
		if err == nil && report.Failed() > 0 {
			return errPartly
		}
		return err
	}
	return cmd
}

// fitDate returns the date of a model: the given one, that of the environment
// variable SOURCE_DATE_EPOCH of reproducible builds, or today's.
func fitDate(given string) (string, error) {
	if given != "" {
		if _, err := time.Parse(time.DateOnly, given); err != nil {
			return "", fmt.Errorf("date %q: write it like 2026-02-03", given)
		}
		return given, nil
	}
	now := time.Now()
	if epoch := os.Getenv("SOURCE_DATE_EPOCH"); epoch != "" {
		seconds, err := strconv.ParseInt(epoch, 10, 64)
		if err != nil {
			return "", fmt.Errorf("SOURCE_DATE_EPOCH is %q: it must be a number of seconds", epoch)
		}
		now = time.Unix(seconds, 0)
	}
	return now.UTC().Format(time.DateOnly), nil
}

// printFit says what a model was fitted to and which recordings were left out.
func printFit(w io.Writer, r *train.Report, path string) {
	m := r.Model
	fmt.Fprintf(w, "%s fitted to %d recordings of %d people; %.1f s\n", m.Method, m.Recordings, len(m.People), r.Elapsed.Seconds())
	printSelected(w, r.Selected)
	if m.Remark != "" {
		fmt.Fprintln(w, "warning:", m.Remark)
	}
	printProblems(w, r.Unused)
	for _, warning := range r.Warnings {
		fmt.Fprintln(w, "warning:", warning)
	}
	if s := m.Score; s != nil {
		fmt.Fprintf(w, "Cross-validated in %d folds by person: F1 %.1f %% (%.1f–%.1f) within %g ms of the %s\n",
			s.Folds, 100*s.F1, 100*s.Low, 100*s.High, s.ToleranceMS, s.Anchor)
	}
	fmt.Fprintln(w)
	printWritten(w, []string{path})
}
