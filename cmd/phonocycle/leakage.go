package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"phonocycle/eval"
	"phonocycle/pipeline/compare"
)

func newLeakage() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "leakage --tables DIR",
		Short: "How well data sets can be told apart from their features",
		Long: `Reads the recordings tables of runs over several data sets and reports how well
a plain classifier, cross-validated by person, tells from which data set a
recording is, and which features tell it by themselves. Sensors and filters leave
traces in the sound. If the data set can be told, a classifier trained on all
together can learn the data set instead of what it should learn.

--by names what is told apart: data_set, site, heart_rate, reference or a label;
of several, separated by commas, it is each combination.`,
		Example: `  phonocycle run --data circor --layout circor --data pascal --layout pascal --training-overlap leave-out --out both
  phonocycle leakage --tables both
  phonocycle leakage --tables cinc2016-results --by part`,
	}
	o := eval.DefaultIdentifiabilityOptions()
	f := cmd.Flags()
	tables := f.StringArray("tables", nil, "`folder` that run or extract wrote; repeat for several")
	by := f.String("by", o.By.String(), "`names` of properties to tell apart, separated by commas")
	f.IntVar(&o.Folds, "folds", o.Folds, "folds by person")
	f.Uint64Var(&o.Seed, "seed", o.Seed, "seed of folds and bootstrap")
	f.IntVar(&o.Resamples, "resamples", o.Resamples, "bootstrap resamples over people")
	f.Float64Var(&o.L2, "l2", o.L2, "ridge `penalty` λ of the regression")
	f.IntVar(&o.Top, "top", o.Top, "features to list")
	asJSON, format := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if len(*tables) == 0 {
			return usageError{fmt.Errorf("no tables: name the folder that run or extract wrote with --tables")}
		}
		var err error
		if o.By, err = eval.ParseGrouping(*by); err != nil {
			return usageError{err}
		}
		result, err := compare.Identifiability(cmd.Context(), *tables, o, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printResult(cmd.OutOrStdout(), result, *asJSON, format.format)
	}
	return cmd
}
