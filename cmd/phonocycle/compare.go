package main

import (
	"errors"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
)

// resultFlags are the flags of commands that read several output folders.
type resultFlags struct{ folders, names []string }

func addResultFlags(set *pflag.FlagSet) *resultFlags {
	f := &resultFlags{}
	set.StringArrayVar(&f.folders, "results", nil, "output `folder` of a run; repeat for each")
	set.StringArrayVar(&f.names, "name", nil, "`name` of the folder in the output, in the order of --results; by default its own")
	return f
}

func newCompare() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "compare --results DIR --results DIR",
		Short: "Say which of several segmentations is better, and whether the data support it",
		Long: `Compares two or more output folders on the same recordings, each pair of them:
differences of F1 with intervals by bootstrap over people, where the same people
are drawn for both; Wilcoxon's signed-rank test over people, adjusted after Holm
for the number of pairs; and in words what the data support. Folders with other
rules, recordings or references are refused with the first difference.

The rules are those by which the folders were scored, unless --anchor or
--tolerance sets them for all.`,
		Example: `  phonocycle compare --results circor-shannon --results circor-hmm
  phonocycle compare --results circor-shannon --results circor-hmm --tolerance 40ms --json
  phonocycle compare --results circor-shannon --results circor-hmm --table latex`,
	}
	results := addResultFlags(cmd.Flags())
	flags := &configFlags{set: cmd.Flags(), given: config.Default()}
	flags.addRuleFlags()
	flags.set.IntVar(&flags.given.Workers, "workers", flags.given.Workers, "parts scored at a time")
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c := compare.Comparison{Folders: results.folders, Names: results.names, Scoring: flags.given.Scoring, Workers: flags.given.Workers}
		if !cmd.Flags().Changed("anchor") && !cmd.Flags().Changed("tolerance") {
			c.Scoring.Anchor, c.Scoring.Tolerance = "", 0
		}
		if len(c.Folders) < 2 {
			return usageError{errors.New("give two or more folders with --results")}
		}
		comparison, err := compare.Run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printResult(cmd.OutOrStdout(), comparison, *asJSON, table)
	}
	return cmd
}
