package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
)

func newExplain() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "explain --data DIR --layout NAME --recording ID --out FILE",
		Short: "Write a page that explains the heart sounds by one recording, for teaching",
		Long: `Writes one HTML file that opens without a network, for a lecture or for reading at
home: the average beat of the recording, a stretch of its sound to play with a line
that walks over the states, which valves close and where the blood goes in each,
and the measured durations beside those of textbooks.

The states are those of the reference annotation where it marks three whole cycles,
and else those that the method finds; --states chooses.`,
		Example: `  phonocycle explain --data demo-out/recordings --layout demo-out/recordings/screening.yaml --recording af01_mitral --out lesson.html`,
	}
	flags := addSourceFlags(cmd).addMethodFlags()
	recording := cmd.Flags().String("recording", "", "`id` of the recording")
	states := cmd.Flags().String("states", "", "whose states are explained: `reference` or predicted")
	out := cmd.Flags().String("out", "", "`file` to write")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *recording == "" {
			return usageError{errors.New("no recording: name one with --recording")}
		}
		if *out == "" {
			return usageError{errors.New("no file to write: name one with --out")}
		}
		c, err := flags.config()
		if err != nil {
			return err
		}
		lesson, err := pipeline.Explain(cmd.Context(), c, *recording, *states)
		if err != nil {
			return err
		}
		if err := pipeline.WriteLesson(lesson, *out); err != nil {
			return err
		}
		printWritten(cmd.OutOrStdout(), []string{*out})
		return nil
	}
	return cmd
}
