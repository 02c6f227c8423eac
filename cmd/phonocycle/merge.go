package main

import (
	"errors"

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
summary and the manifest.

With --data and --layout it first reads the data again and refuses if a recording,
its reference or its labels have changed since a part was made.`,
		Example: `  phonocycle run --data circor --layout circor --training-overlap leave-out --out results --resume --shard 1/2
  phonocycle run --data circor --layout circor --training-overlap leave-out --out results --resume --shard 2/2
  phonocycle merge --out results --data circor --layout circor`,
	}
	flags := &configFlags{set: cmd.Flags(), given: config.Default()}
	flags.addDataFlags()
	flags.addSelectionFlags()
	flags.addScoringWorkersFlag()
	out := cmd.Flags().String("out", "", "`folder` of the run")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := needOut(*out); err != nil {
			return err
		}
		c := flags.given
		var err error
		if c.Inputs, err = flags.sources(); err != nil {
			return err
		}
		if len(c.Inputs) == 0 && c.People+c.Recordings != "" {
			return usageError{errors.New("--people and --recordings belong to --data: without it, merge reads no list of recordings")}
		}
		if err := flags.check(c); err != nil {
			return err
		}
		report, err := pipeline.Merge(cmd.Context(), *out, c, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printReport(cmd.OutOrStdout(), report, *asJSON)
	}
	return cmd
}
