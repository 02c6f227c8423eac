package main

import (
	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newCrossval() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "crossval --data DIR --layout NAME --method NAME --out DIR",
		Short: "Cross-validate a method in folds by person",
		Long: `Splits the people of a data set into folds. For each fold it fits the method to
the people of all other folds, and segments and scores the recordings of this
fold. So no recording is segmented by a model that was fitted to its person.

The folds depend only on --fold-seed, the names of the people, and the labels that
the layout lists under stratify: each fold gets its share of each value of these
labels. The column fold of the tables holds the fold.

Writes the same tables, summary and manifest as run, and the model of each fold
into the folder models. --resume continues an interrupted cross-validation.

A method that has no parameters to fit is scored as it is.`,
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
