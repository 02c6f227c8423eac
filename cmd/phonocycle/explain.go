package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/pages"
)

func newExplain() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "explain --data DIR --layout NAME --recording ID --out FILE",
		Short: "Write a web page that explains the heart sounds of one recording",
		Long: `Writes one HTML file for teaching. It opens without a network. It shows the average
beat of the recording, and plays a part of the sound while a line moves over the
states. It tells which valves close and where the blood flows in each state, and
it compares the measured durations with those of textbooks.

By default the states are those of the reference if it has three whole cycles, and
otherwise those that the method finds. --source chooses one of them.`,
		Example: `  phonocycle explain --data demo-out/recordings --layout demo-out/recordings/screening.yaml \
    --recording af01_mitral --out heart-sounds.html`,
	}
	flags := addSourceFlags(cmd).addReferenceFlag().addChannelFlag().addMethodFlags().addModelFlag()
	recording := cmd.Flags().String("recording", "", "`id` of the recording")
	source := cmd.Flags().String("source", "", "`states` to explain: predicted or reference")
	out := cmd.Flags().String("out", "", "`file` to write")
	var overwrite bool
	addOverwriteFileFlag(cmd.Flags(), &overwrite)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *recording == "" {
			return usageError{errors.New("no recording: give its id with --recording")}
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
		page, err := pages.Explain(cmd.Context(), c, *recording, *source)
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
