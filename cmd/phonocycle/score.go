package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newScore() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "score --states DIR --out DIR",
		Short: "Score a segmentation, of run or of another program",
		Long: `Scores the predicted against the reference rows of the states table in the
folder --states, written by run or segment, and writes the tables matches and
scores and summary.json. Give other rules than the run had to see what they
change.

With --predictions it scores what another program made of the recordings of
--data: Parquet files with the columns recording, state, start_s and end_s, or
text that --format describes in the words of a layout's reference (kind, paths,
key, match, columns, unit, base, states, delimiter, header) and, for times in
samples of another rate than the recording's, rate. Recordings without a
prediction are listed and count as missed; a prediction for a recording that the
data does not have is an error. The output folder can be given to compare, audit
and report like that of a run.`,
		Example: `  phonocycle score --states circor-results --tolerance 40ms --out circor-40ms
  phonocycle score --predictions theirs --format theirs.yaml --data circor --layout circor --out circor-theirs`,
	}
	flags := addSourceFlags(cmd).addScoringFlags()
	flags.set.StringVar(&flags.given.Out, "out", "", "output `folder`; with --states it may be the one with the states")
	flags.set.IntVar(&flags.given.Workers, "workers", flags.given.Workers, "parts scored at a time")
	flags.set.BoolVar(&flags.given.Resume, "resume", false, "with --predictions: continue an interrupted scoring at its first missing part")
	states := cmd.Flags().String("states", "", "`folder` that run or segment wrote")
	var of pipeline.Predictions
	cmd.Flags().StringVar(&of.Path, "predictions", "", "`folder` or file that another program wrote, in place of --states")
	cmd.Flags().StringVar(&of.Format, "format", "", "YAML `file` that describes predictions written as text")
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		report, err := scoreReport(cmd, flags, *states, of)
		if err != nil {
			return err
		}
		if table.Format == "" {
			return printReport(cmd.OutOrStdout(), report, *asJSON)
		}
		if err := report.Summary.WriteTable(cmd.OutOrStdout(), table.Format); err != nil {
			return err
		}
		if report.Counts.Failed > 0 {
			return errPartly
		}
		return nil
	}
	return cmd
}

// scoreReport scores the states of a folder or what another program made.
func scoreReport(cmd *cobra.Command, flags *configFlags, states string, of pipeline.Predictions) (*pipeline.Report, error) {
	switch {
	case of.Path != "" && states != "":
		return nil, usageError{errors.New("give --states or --predictions, not both")}
	case of.Path != "":
		return stageReport(cmd, flags, func(ctx context.Context, c pipeline.Config, p pipeline.Progress) (*pipeline.Report, error) {
			return pipeline.ScorePredictions(ctx, c, of, p)
		})
	case states == "":
		return nil, errNoStates
	}
	if err := needOut(&flags.given); err != nil {
		return nil, err
	}
	return pipeline.Score(cmd.Context(), flags.given, states, newProgress(cmd.ErrOrStderr()))
}
