package main

import (
	"context"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newSegment() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "segment --data DIR --layout NAME --method NAME --out DIR",
		Short: "Segment a data set: the first stage of run alone",
		Long: `Segments every recording and writes the tables recordings and states. The
states table holds the predicted intervals and, where there is one, the
reference; extract and score go on from there.`,
	}
	flags := addRunFlags(cmd).addMethodFlags()
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return runStage(cmd, flags, *asJSON, pipeline.Segment)
	}
	return cmd
}

func newExtract() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "extract --data DIR --layout NAME --states DIR --out DIR",
		Short: "Measure the cycles of a segmentation: the second stage of run alone",
		Long: `Reads the states table in the folder --states, written by run or segment, and
the recordings it speaks of, and writes the tables recordings and cycles with
all features. With --source reference the cycles are those of the annotators.`,
	}
	flags := addRunFlags(cmd)
	states, source := addStatesFlags(cmd)
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *states == "" {
			return errNoStates
		}
		return runStage(cmd, flags, *asJSON, func(ctx context.Context, c pipeline.Config, p pipeline.Progress) (*pipeline.Report, error) {
			return pipeline.Extract(ctx, c, *states, *source, p)
		})
	}
	return cmd
}
