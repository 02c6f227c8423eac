package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/eval"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
)

func newCompare() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "compare --results DIR --results DIR",
		Short: "Compare segmentations of the same recordings",
		Long: `Compares the scores of two or more runs over the same recordings. A table has one
row per run: recall, precision and F1 of S1, S2 and both, pooled over events, and
the mean of F1 over people. For each pair of runs, or with --against for each other
run and that one, it prints the difference in F1 with its confidence interval, a
test, and the conclusion in words. The interval is from a paired bootstrap over
people. The test is Wilcoxon's signed-rank test of the F1 of people; its p values
are adjusted for the number of pairs by Holm's method.

Runs with different rules, recordings or references cannot be compared. The
command then names the first difference. With --across it puts them side by side
instead: a table with one row per method and one column per data set and
reference, without differences. A run stands in the row of its --name, by default
that of its method.

By default the rules are those that the runs were scored with. --anchor or
--tolerance sets other rules for all runs; the one that is not given then has its
default.

--table prints the table of runs for a paper, with the rules and how the scores
arose in its caption; with --differences, that of the differences. As CSV all
columns are there, with the intervals of all ratios; --across then has one row per
method and data set.`,
		Example: `  phonocycle compare --results cv --results circor-peaks
  phonocycle compare --results cv --results circor-peaks --against cv --table latex
  phonocycle compare --results cv --results circor-peaks --tolerance 40ms --json
  phonocycle compare --across --results cv --results circor-peaks --results cinc2016-ecg`,
	}
	results := addResultFlags(cmd).addNamesFlag(cmd)
	flags := &configFlags{set: cmd.Flags(), given: config.Default()}
	flags.given.Scoring.Resamples = 0
	flags.addRuleFlags()
	cmd.Flags().Lookup("resamples").Usage += "; by default as many as a run takes for scores, and 20000 for differences"
	flags.addScoringWorkersFlag()
	flags.addHeldReferenceFlag()
	against := cmd.Flags().String("against", "", "`name` of the run with which all others are compared, and no other pairs")
	across := cmd.Flags().Bool("across", false, "put runs over several data sets or references into one table, without differences")
	differences := cmd.Flags().Bool("differences", false, "with --table, print the table of differences instead of that of runs")
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *across && (*against != "" || *differences) {
			return usageError{errors.New("--across gives no differences: leave out --against and --differences")}
		}
		if *differences && table.format == "" {
			return usageError{errors.New("--differences needs --table: without it, all tables are printed")}
		}
		least := 2
		if *across {
			least = 1
		}
		if err := results.check(least); err != nil {
			return err
		}
		if err := flags.check(flags.given); err != nil {
			return err
		}
		c := compare.Comparison{
			Folders: results.folders, Names: results.names, Reference: flags.given.Reference, Against: *against,
			Scoring: flags.given.Scoring, Workers: flags.given.Workers,
		}
		if !cmd.Flags().Changed("anchor") && !cmd.Flags().Changed("tolerance") {
			c.Scoring.Anchor, c.Scoring.Tolerance = "", 0
		}
		if *across {
			overview, err := compare.Across(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
			if err != nil {
				return err
			}
			return printResult(cmd.OutOrStdout(), overview, *asJSON, table.format)
		}
		comparison, err := compare.Run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
		if errors.Is(err, compare.ErrUnknownRun) {
			return usageError{err}
		}
		if err != nil {
			return err
		}
		if *differences {
			return printResult(cmd.OutOrStdout(), eval.Differences{Comparison: comparison}, *asJSON, table.format)
		}
		return printResult(cmd.OutOrStdout(), comparison, *asJSON, table.format)
	}
	return cmd
}
