package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newRun() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run --data DIR --layout NAME --method NAME --out DIR",
		Short: "Segment, measure and score a data set",
		Long: `Segments every recording of a data set, extracts the features of each cycle and
recording, and scores the segmentation against the reference annotations where
there are any. Writes the tables recordings, states, cycles, matches and scores
as Parquet, summary.json with the scores and the rules behind them, and
manifest.json with what everything was made from.`,
		Example: `  phonocycle run --data circor --layout circor --method duration-hmm --out results
  phonocycle run --config schmidt-2010 --data circor --layout circor --out results`,
	}
	flags := addRunFlags(cmd).addMethodFlags().addScoringFlags()
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return runStage(cmd, flags, *asJSON, pipeline.Run)
	}
	return cmd
}
