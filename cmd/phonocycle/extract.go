package main

import (
	"context"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/workers"
)

func newExtract() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "extract --data DIR --layout NAME --states DIR --out DIR",
		Short: "Measure the features of segmented recordings (second stage of run)",
		Long: `Reads the table states that run or segment wrote, and the recordings in it. Writes
the tables recordings, cycles and people with all features. With --source
reference it measures the cycles of the reference annotations instead of those
that a method found.`,
		Example: `  phonocycle segment --data circor --layout circor --out circor-states
  phonocycle extract --data circor --layout circor --states circor-states --out circor-features`,
	}
	flags := addRunFlags(cmd)
	states := addStatesFlags(cmd)
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := states.check(); err != nil {
			return err
		}
		return runStage(cmd, flags, *asJSON, func(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
			return pipeline.Extract(ctx, c, states.folder, states.source, p)
		})
	}
	return cmd
}
