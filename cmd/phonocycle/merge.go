package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newMerge() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "merge --out DIR",
		Short: "Complete a run whose parts were made by several shards",
		Long: `Makes sure that every part of the run in the folder --out is there and was made
by the same plan, and writes what stands on the whole: the tables matches and
scores, the summary and the manifest.`,
		Example: `  phonocycle run --data circor --layout circor --out results --resume --shard 1/2
  phonocycle run --data circor --layout circor --out results --resume --shard 2/2
  phonocycle merge --out results`,
	}
	c := pipeline.DefaultConfig()
	cmd.Flags().StringVar(&c.Out, "out", "", "`folder` of the run")
	cmd.Flags().IntVar(&c.Workers, "workers", c.Workers, "parts scored at a time")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := needOut(&c); err != nil {
			return err
		}
		report, err := pipeline.Merge(cmd.Context(), c.Out, c.Workers, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printReport(cmd.OutOrStdout(), report, *asJSON)
	}
	return cmd
}
