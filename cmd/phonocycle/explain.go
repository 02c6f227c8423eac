package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/pages"
)

func newExplain() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "explain --data DIR --layout NAME --recording ID --out FILE",
		Short: "Write a page that explains the heart sounds by one recording, for teaching",
		Long: `Writes one HTML file that opens without a network, for a lecture or for reading at
home: the average cycle of the recording, a section to listen to while a cursor
shows the states, what valves and blood do in each state, and the measured
durations beside those of textbooks.

The states are those of the reference annotation if it has three whole cycles,
otherwise those that the method predicts; --states chooses.`,
		Example: `  phonocycle explain --data demo-out/recordings --layout demo-out/recordings/screening.yaml --recording af01_mitral --out page.html`,
	}
	flags := addSourceFlags(cmd).addMethodFlags()
	recording := cmd.Flags().String("recording", "", "`id` of the recording")
	states := cmd.Flags().String("states", "", "states to explain: `reference` or predicted")
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
		page, err := pages.Explain(cmd.Context(), c, *recording, *states)
		if err != nil {
			return err
		}
		if err := pages.WriteTeachingPage(page, *out); err != nil {
			return err
		}
		printWritten(cmd.OutOrStdout(), []string{*out})
		return nil
	}
	return cmd
}
