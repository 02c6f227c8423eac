package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newRun() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run --data DIR --layout NAME --method NAME --out DIR",
		Short: "Segment, measure and score a data set",
		Long: `Segments every recording of a data set, measures the features of each cycle and
recording, and scores the segmentation if there are reference annotations.

Writes the tables recordings, states, cycles, people, matches and scores as Parquet
files; summary.json with the scores and their rules; and manifest.json, which says
what the tables were made from.`,
		Example: `  phonocycle run --data circor --layout circor --method shannon-peaks --out circor-peaks
  phonocycle run --data circor --layout circor --config schmidt-2010 --out circor-schmidt`,
	}
	flags := addRunFlags(cmd).addMethodFlags().addModelFlag().addScoringFlags()
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return runStage(cmd, flags, *asJSON, pipeline.Run)
	}
	return cmd
}
