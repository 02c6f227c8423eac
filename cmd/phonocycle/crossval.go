package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newCrossval() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "crossval --data DIR --layout NAME --method NAME --out DIR",
		Short: "Fit and score a method in folds by person",
		Long: `Cross-validates a method: splits the people of a data set into folds, fits the
method to all folds but one, segments and scores that one, and does so for each
fold in turn. No person is ever in both. Folds are a function of --fold-seed and
the people's names, with the same share of each value of the labels by which the
layout stratifies, and stand in the tables as column fold.

Writes the tables, summary and manifest of run, in which every recording was
segmented by a model that has never seen its person, and the models of the folds
under models/. An interrupted cross-validation goes on with --resume.

A method without parameters is scored as it is.`,
		Example: `  phonocycle crossval --data circor --layout circor --method logistic-hsmm --out cv
  phonocycle crossval --data circor --layout circor --config springer-2016 --folds 5 --out cv-springer`,
	}
	flags := addRunFlags(cmd).addMethodFlags().addFitFlags().addScoringFlags()
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return runStage(cmd, flags, *asJSON, pipeline.Crossval)
	}
	return cmd
}
