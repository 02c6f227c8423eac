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
		Long: `Writes one HTML file that opens without a network. Its first screen shows the
headline with its interval and how it arose, a map of all recordings, the score
against the tolerance, and the score by label. Below, every recording can be found
and opened. Then follow all scores and statistics, references to review, failed and
excluded recordings, the rules, and what the results were made from.

Several runs over the same recordings are compared. Details are then those of the
first run. Recordings are drawn from their states. With --data and --layout the audio
is read: the best, median and worst recordings and some references to review are drawn
with waveform and spectrogram and can be played, all others with their envelope.
--sounds all adds the sound of these too, at 2 kHz and some 45 kB a recording;
--sounds none leaves out all sounds.`,
		Example: `  phonocycle report --results circor-results --data circor --layout circor --out report.html
  phonocycle report --results cv --results circor-peaks --out report.html --figures figures --tables tables`,
	}
	results := addResultFlags(cmd).addNamesFlag(cmd)
	flags := &configFlags{set: cmd.Flags()}
	cmd.Flags().StringArrayVar(&flags.data, "data", nil, "`folder` of the data set, to show and play its recordings")
	cmd.Flags().StringArrayVar(&flags.layouts, "layout", nil, "layout of the data set: a `name` or a YAML file")
	flags.addLinksFlag()
	flags.addHeldReferenceFlag()
	sounds := cmd.Flags().String("sounds", string(pages.ChosenSounds), "`recordings` that can be played: all, chosen or none; needs --data")
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
		o := pages.ReportOptions{
			Results: results.folders, Names: results.names, Reference: flags.given.Reference,
			Inputs: inputs, Sounds: pages.Sounds(*sounds), Progress: newProgress(cmd.ErrOrStderr()),
		}
		if err := o.Sounds.Check(); err != nil {
			return usageError{err}
		}
		if len(inputs) == 0 && cmd.Flags().Changed("sounds") {
			return usageError{errors.New("--sounds needs the recordings: give --data and --layout")}
		}
		files.Progress = newProgressOf("figures", cmd.ErrOrStderr())
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
