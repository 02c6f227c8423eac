package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newLeakage() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "leakage --tables DIR",
		Short: "How well data sets can be told apart from their features",
		Long: `Reads the recordings tables of runs over several data sets and reports how well
a plain classifier, cross-validated by person, tells from which data set a
recording is, and which features tell it by themselves. Sensors and filters leave
traces; where the data set can be told, a classifier trained on all together can
learn it in place of what it should.`,
		Example: `  phonocycle run --data circor --layout circor --data pascal --layout pascal --out both
  phonocycle leakage --tables both
  phonocycle leakage --tables cinc2016-results --by part`,
	}
	o := pipeline.DefaultLeakageOptions()
	f := cmd.Flags()
	tables := f.StringArray("tables", nil, "`folder` that run or extract wrote; repeat for several")
	f.StringVar(&o.By, "by", "", "tell the values of this `label` apart instead of data sets")
	f.IntVar(&o.Folds, "folds", o.Folds, "folds by person")
	f.Uint64Var(&o.Seed, "seed", o.Seed, "seed of folds and bootstrap")
	f.IntVar(&o.Resamples, "resamples", o.Resamples, "bootstrap resamples over people")
	f.Float64Var(&o.C, "c", o.C, "weight of the data against the ridge penalty")
	f.IntVar(&o.Most, "most", o.Most, "telling features to name")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if len(*tables) == 0 {
			return usageError{fmt.Errorf("no tables: name the folder that run or extract wrote with --tables")}
		}
		leak, err := pipeline.Leakage(cmd.Context(), *tables, o, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		if *asJSON {
			e := json.NewEncoder(cmd.OutOrStdout())
			e.SetIndent("", "  ")
			return e.Encode(leak)
		}
		if err := leak.WriteText(cmd.OutOrStdout()); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "\n%s\n", caution)
		return nil
	}
	return cmd
}
