package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/synth"
)

// demoSeed makes the demo the same on every machine.
const demoSeed = 1

func newDemo() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Run the whole pipeline on a small synthetic data set",
		Long: `Makes synthetic recordings of a fictional screening day in a village, in the folder
recordings under --out. Some of them have problems, as in real data. Then it runs
the whole pipeline and prints the scores, the recordings that failed and why, and
the files that it wrote.`,
		Example: `  phonocycle demo`,
	}
	out := cmd.Flags().String("out", "demo-out", "output `folder`")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		data := filepath.Join(*out, "recordings")
		if _, err := os.Stat(data); err == nil {
			return fmt.Errorf("output folder %s already holds a demo: remove it, or give another folder with --out", *out)
		}
		if err := synth.WriteDemo(cmd.Context(), data, demoSeed); err != nil {
			return err
		}
		c := config.Default()
		c.Inputs = []config.Input{{Data: data, Layout: filepath.Join(data, synth.Demo().Name+".yaml")}}
		c.Out = filepath.Join(*out, "results")
		c.Scoring.Strata = []string{"condition"} // gives the clean recordings a score of their own
		report, err := pipeline.Run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		// Some recordings fail on purpose. The demo is still done.
		if err := printReport(cmd.OutOrStdout(), report, *asJSON); err != nil && err != errPartly {
			return err
		}
		return nil
	}
	return cmd
}
