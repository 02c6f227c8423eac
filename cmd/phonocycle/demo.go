package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/synth"
)

// The demo is the same on every machine.
const demoSeed = 1

func newDemo() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Run the main job on a small synthetic data set",
		Long: `Renders the recordings of a fictional village screening day into DIR/recordings,
with some trouble among them as real data have it, runs the whole pipeline over
them and prints the scores, what failed and why, and what was written.`,
	}
	out := cmd.Flags().String("out", "demo-out", "output `folder`")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		data := filepath.Join(*out, "recordings")
		if _, err := os.Stat(data); err == nil {
			return fmt.Errorf("output folder %s holds a demo already; remove it, or give another with --out", *out)
		}
		if err := synth.WriteDemo(cmd.Context(), data, demoSeed); err != nil {
			return err
		}
		c := pipeline.DefaultConfig()
		c.Sources = []pipeline.Source{{Data: data, Layout: filepath.Join(data, synth.Demo().Name+".yaml")}}
		c.Out = filepath.Join(*out, "results")
		c.Scoring.Strata = []string{"condition"} // so that the clean recordings stand alone
		report, err := pipeline.Run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		// The scenario holds files that no method can use, to show what becomes
		// of them; the demo has still done all it set out to do.
		if err := printReport(cmd.OutOrStdout(), report, *asJSON); err != nil && err != errPartly {
			return err
		}
		return nil
	}
	return cmd
}
