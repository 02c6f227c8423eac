package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
)

func newMerge() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "merge --out DIR",
		Short: "Complete a run that was made in shards",
		Long: `Checks that all parts of the run in the folder --out exist and were made with the
same plan. Then it scores them and writes the tables matches and scores, the
summary and the manifest.`,
		Example: `  phonocycle run --data circor --layout circor --out results --resume --shard 1/2
  phonocycle run --data circor --layout circor --out results --resume --shard 2/2
  phonocycle merge --out results`,
	}
	flags := &configFlags{set: cmd.Flags(), given: config.Default()}
	flags.addScoringWorkersFlag()
	out := cmd.Flags().String("out", "", "`folder` of the run")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := needOut(*out); err != nil {
			return err
		}
		if err := flags.given.Check(); err != nil {
			return err
		}
		report, err := pipeline.Merge(cmd.Context(), *out, flags.given.Workers, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printReport(cmd.OutOrStdout(), report, *asJSON)
	}
	return cmd
}
