package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newSegment() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "segment --data DIR --layout NAME --method NAME --out DIR",
		Short: "Segment a data set (first stage of run)",
		Long: `Segments every recording and writes the tables recordings and states. The table
states holds the predicted intervals, and the reference intervals if there are
any. extract and score continue from this table.`,
		Example: `  phonocycle segment --data circor --layout circor --method duration-hmm --out circor-states`,
	}
	flags := addRunFlags(cmd).addMethodFlags().addModelFlag()
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return runStage(cmd, flags, *asJSON, pipeline.Segment)
	}
	return cmd
}
