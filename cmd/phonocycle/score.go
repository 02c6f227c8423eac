package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newScore() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "score --states DIR --out DIR",
		Short: "Score a segmentation: the third stage of run alone",
		Long: `Scores the predicted against the reference rows of the states table in the
folder --states, written by run or segment, and writes the tables matches and
scores and summary.json. Give other rules than the run had to see what they
change.`,
	}
	flags := &configFlags{set: cmd.Flags(), given: pipeline.DefaultConfig()}
	flags.addScoringFlags()
	flags.set.StringVar(&flags.given.Out, "out", "", "output `folder`; may be the one with the states")
	flags.set.IntVar(&flags.given.Workers, "workers", flags.given.Workers, "parts scored at a time")
	states := cmd.Flags().String("states", "", "`folder` that run or segment wrote")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *states == "" {
			return errNoStates
		}
		if err := needOut(&flags.given); err != nil {
			return err
		}
		report, err := pipeline.Score(cmd.Context(), flags.given, *states, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printReport(cmd.OutOrStdout(), report, *asJSON)
	}
	return cmd
}
