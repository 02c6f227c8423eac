package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pages"
)

func newReport() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "report --results DIR [--results DIR …] [--data DIR --layout NAME] --out FILE",
		Short: "Write the report of one or several runs as a web page in one file",
		Long: `Writes the results in an output folder as one HTML file that needs no network:
rules, scores with intervals, figures, example recordings, references to review,
failed and excluded recordings, and provenance. With several --results over the
same recordings the runs are compared, and details are those of the first. With
--data and --layout the page shows and plays the recordings.`,
		Example: `  phonocycle report --results circor-results --data circor --layout circor --out report.html
  phonocycle report --results hmm --results peaks --out report.html --figures figures --tables tables`,
	}
	sources := &configFlags{set: cmd.Flags()}
	results := addResultFlags(cmd.Flags())
	sources.set.StringArrayVar(&sources.data, "data", nil, "`folder` of the data set, to draw and to play its recordings")
	sources.set.StringArrayVar(&sources.layouts, "layout", nil, "layout of the data set: a `name` or a YAML file")
	var files pages.ReportFiles
	cmd.Flags().StringVar(&files.Out, "out", "", "`file` to write")
	cmd.Flags().StringVar(&files.Figures, "figures", "", "`folder` for the figures as SVG, PNG and PDF")
	cmd.Flags().StringVar(&files.Tables, "tables", "", "`folder` for the tables as Markdown, LaTeX and CSV")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		o := pages.ReportOptions{Results: results.folders, Names: results.names}
		if len(results.folders) == 0 {
			return usageError{errors.New("no results: name the output folder of a run with --results")}
		}
		if files.Out == "" {
			return usageError{errors.New("no file to write: name one with --out")}
		}
		if len(sources.data)+len(sources.layouts) > 0 {
			var read config.Config
			if err := sources.sources(&read); err != nil {
				return err
			}
			o.Inputs = read.Inputs
		}
		page, err := pages.Report(cmd.Context(), o)
		if err != nil {
			return err
		}
		written, err := pages.WriteReport(page, files)
		if err != nil {
			return err
		}
		printWritten(cmd.OutOrStdout(), written)
		return nil
	}
	return cmd
}

// printWritten lists files that were written, and the caution.
func printWritten(w io.Writer, paths []string) {
	fmt.Fprintln(w, "Written:")
	for _, path := range paths {
		fmt.Fprintln(w, " ", path)
	}
	fmt.Fprintf(w, "\n%s\n", caution)
}
