package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/eval/report"
	"phonocycle/pipeline/pages"
)

func newExplain() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "explain --data DIR --layout NAME --recording ID [--recording ID …] --out FILE",
		Short: "Write a web page that explains the heart sounds of recordings",
		Long: `Writes one HTML file for teaching. It opens without a network. It plays a stretch of
the sound while a line moves over the states, and a drawing shows which valves are
open and where the blood flows. It shows the average beat of the recording and
compares the measured durations with those of textbooks. What the data set says of a
recording is shown as its label.

Several --recording are compared on one time scale: a normal one, one with a murmur, a
fast one. --quiz hides states, labels and names until the reader asks for them.
--sheet makes a worksheet to print: a page to be marked by hand, and a page with the
answer.

By default the states are those of the reference if it has three whole cycles, and
otherwise those that the method finds. --source chooses one of them. The stretch is
the one with the most marked time. --start and --length choose another.`,
		Example: `  phonocycle explain --data demo-out/recordings --layout demo-out/recordings/screening.yaml \
    --recording af01_mitral --out heart-sounds.html
  phonocycle explain --data demo-out/recordings --layout demo-out/recordings/screening.yaml \
    --recording af01_mitral --recording af04_aortic --start 2s --length 4s --quiz --out quiz.html`,
	}
	flags := addSourceFlags(cmd).addReferenceFlag().addChannelFlag().addMethodFlags().addModelFlag()
	var o pages.ExplainOptions
	cmd.Flags().StringArrayVar(&o.Recordings, "recording", nil, "`id` of the recording; repeat to compare several")
	cmd.Flags().StringVar(&o.States, "source", "", "`states` to explain: predicted or reference")
	cmd.Flags().DurationSliceVar(&o.Starts, "start", nil, "`time` in the recording at which the stretch begins; with several recordings one for all, or one for each, separated by commas")
	cmd.Flags().DurationVar(&o.Length, "length", report.TeachingStretch, "length of the stretch that is drawn and played")
	cmd.Flags().BoolVar(&o.Quiz, "quiz", false, "hide states, labels and names until the reader asks for them")
	cmd.Flags().BoolVar(&o.Sheet, "sheet", false, "make a worksheet of two pages to print, without sound")
	out := cmd.Flags().String("out", "", "`file` to write")
	var overwrite bool
	addOverwriteFileFlag(cmd.Flags(), &overwrite)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := o.Check(); err != nil {
			return usageError{err}
		}
		if *out == "" {
			return usageError{errors.New("no file to write: give one with --out")}
		}
		c, err := flags.config()
		if err != nil {
			return err
		}
		if err := checkOutside(c.Inputs, *out); err != nil {
			return err
		}
		page, err := pages.Explain(cmd.Context(), c, o)
		if err != nil {
			return err
		}
		if err := pages.WriteTeachingPage(page, *out, overwrite); err != nil {
			return err
		}
		printWritten(cmd.OutOrStdout(), []string{*out})
		return nil
	}
	return cmd
}
