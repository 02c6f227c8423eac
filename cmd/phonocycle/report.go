package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/pages"
)

func newReport() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "report --results DIR [--results DIR …] [--data DIR --layout NAME] --out FILE",
		Short: "Write a report of one or several runs as a web page",
		Long: `Writes one HTML file that opens without a network. It holds the rules, the scores
with their intervals, figures, example recordings, references to review, failed
and excluded recordings, and what the results were made from.

Several runs over the same recordings are compared. Details are then those of the
first run. With --data and --layout the page shows the signals of
some recordings and plays them.`,
		Example: `  phonocycle report --results circor-results --data circor --layout circor --out report.html
  phonocycle report --results cv --results circor-peaks --out report.html --figures figures --tables tables`,
	}
	results := addResultFlags(cmd).addNamesFlag(cmd)
	flags := &configFlags{set: cmd.Flags()}
	cmd.Flags().StringArrayVar(&flags.data, "data", nil, "`folder` of the data set, to show and play its recordings")
	cmd.Flags().StringArrayVar(&flags.layouts, "layout", nil, "layout of the data set: a `name` or a YAML file")
	flags.addLinksFlag()
	flags.addHeldReferenceFlag()
	var files pages.ReportFiles
	cmd.Flags().StringVar(&files.Out, "out", "", "`file` to write")
	cmd.Flags().StringVar(&files.Figures, "figures", "", "`folder` for the figures as SVG, PNG and PDF")
	cmd.Flags().StringVar(&files.Tables, "tables", "", "`folder` for the tables as Markdown, LaTeX and CSV")
	addOverwriteFileFlag(cmd.Flags(), &files.Overwrite)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := results.check(1); err != nil {
			return err
		}
		if files.Out == "" {
			return usageError{errors.New("no file to write: give one with --out")}
		}
		inputs, err := flags.sources()
		if err != nil {
			return err
		}
		if err := checkOutside(inputs, files.Out, files.Figures, files.Tables); err != nil {
			return err
		}
		page, err := pages.Report(cmd.Context(), pages.ReportOptions{Results: results.folders, Names: results.names, Reference: flags.given.Reference, Inputs: inputs})
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
