package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pages"
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
the files that it wrote. The last lines name two pages to open in a browser: the
report of the run, and a teaching page that compares three recordings.`,
		Example: `  phonocycle demo`,
	}
	out := cmd.Flags().String("out", "demo-out", "output `folder`")
	var overwrite bool
	addOverwriteFolderFlag(cmd.Flags(), &overwrite)
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		data := filepath.Join(*out, "recordings")
		if err := needEmpty(data, overwrite); err != nil {
			return err
		}
		if err := synth.WriteDemo(cmd.Context(), data, demoSeed); err != nil {
			return err
		}
		c := config.Default()
		c.Inputs = []config.Input{{Data: data, Layout: filepath.Join(data, synth.Demo().Name+".yaml")}}
		c.Out, c.Overwrite = filepath.Join(*out, "results"), overwrite
		c.Scoring.Strata = []string{"condition"} // gives the clean recordings a score of their own
		report, err := pipeline.Run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		written, err := writeDemoPages(cmd.Context(), c, *out)
		if err != nil {
			return err
		}
		if *asJSON {
			report.Written = append(report.Written, written...)
		}
		// Some recordings fail on purpose. The demo is still done.
		if err := printReport(cmd.OutOrStdout(), report, *asJSON); err != nil && err != errPartly {
			return err
		}
		if !*asJSON {
			printPages(cmd.OutOrStdout(), written)
		}
		return nil
	}
	return cmd
}

// comparedInDemo are the recordings of the demo's teaching page: a usual one, one with a
// murmur in systole and one of a fast heart.
var comparedInDemo = []string{"af01_mitral", "af04_aortic", "af09_tricuspid"}

// writeDemoPages writes the report of a run and a teaching page under out, over those
// of an earlier demo, and returns their paths.
func writeDemoPages(ctx context.Context, c config.Config, out string) ([]string, error) {
	page, err := pages.Report(ctx, pages.ReportOptions{Results: []string{c.Out}, Inputs: c.Inputs})
	if err != nil {
		return nil, err
	}
	written, err := pages.WriteReport(page, pages.ReportFiles{Out: filepath.Join(out, "report.html"), Overwrite: c.Overwrite})
	if err != nil {
		return nil, err
	}
	teaching, err := pages.Explain(ctx, c, pages.ExplainOptions{Recordings: comparedInDemo})
	if err != nil {
		return nil, err
	}
	path := filepath.Join(out, "heart-sounds.html")
	return append(written, path), pages.WriteTeachingPage(teaching, path, c.Overwrite)
}

// printPages names pages to look at.
func printPages(w io.Writer, paths []string) {
	fmt.Fprintln(w, "\nOpen in a browser:")
	for _, path := range paths {
		fmt.Fprintln(w, " ", path)
	}
}
