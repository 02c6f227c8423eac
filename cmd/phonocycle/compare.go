package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
)

func newCompare() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "compare --results DIR --results DIR",
		Short: "Compare segmentations of the same recordings",
		Long: `Compares the scores of two or more runs over the same recordings. For each pair of
runs it prints the difference in F1 with its confidence interval, a test, and the
conclusion in words. The interval is from a paired bootstrap over people. The test
is Wilcoxon's signed-rank test over people; its p values are adjusted for the
number of pairs by Holm's method.

Runs with different rules, recordings or references cannot be compared. The
command then names the first difference.

By default the rules are those that the runs were scored with. --anchor or
--tolerance sets other rules for all runs; the one that is not given then has its
default.`,
		Example: `  phonocycle compare --results cv --results circor-peaks
  phonocycle compare --results cv --results circor-peaks --tolerance 40ms --json
  phonocycle compare --results cv --results circor-peaks --table latex`,
	}
	results := addResultFlags(cmd).addNamesFlag(cmd)
	flags := &configFlags{set: cmd.Flags(), given: config.Default()}
	flags.given.Scoring.Resamples = 0
	flags.addRuleFlags()
	cmd.Flags().Lookup("resamples").Usage += "; by default as many as a run takes for scores, and 20000 for differences"
	flags.addScoringWorkersFlag()
	flags.addHeldReferenceFlag()
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := results.check(2); err != nil {
			return err
		}
		if err := flags.check(flags.given); err != nil {
			return err
		}
		c := compare.Comparison{Folders: results.folders, Names: results.names, Reference: flags.given.Reference, Scoring: flags.given.Scoring, Workers: flags.given.Workers}
		if !cmd.Flags().Changed("anchor") && !cmd.Flags().Changed("tolerance") {
			c.Scoring.Anchor, c.Scoring.Tolerance = "", 0
		}
		comparison, err := compare.Run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printResult(cmd.OutOrStdout(), comparison, *asJSON, table.format)
	}
	return cmd
}
