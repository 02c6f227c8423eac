package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/synth"
)

// mostRecordings bounds --many, since the list of recordings is kept in memory.
const mostRecordings = 10_000_000

func newSynth() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "synth --out DIR",
		Short: "Make synthetic recordings with exactly known S1 and S2",
		Long: `Makes recordings of invented people. A file beside each recording gives its true
states, exact to the sample. A layout file describes the folder, so that scan and run read
it like any other data set.

By default the people are those of the demo. --people reads other people from a
YAML file. --many makes short recordings for tests of scale. The same seed gives
the same bytes.`,
		Example: `  phonocycle synth --out village
  phonocycle run --data village --layout village/screening.yaml --out village-results
  phonocycle synth --many 100 --length 3s --out many`,
	}
	var (
		out    = cmd.Flags().String("out", "", "output `folder`; it must be empty or new")
		people = cmd.Flags().String("people", "", "YAML `file` with the people and their recordings")
		many   = cmd.Flags().Int("many", 0, "`number` of short recordings to make, in place of people")
		length = cmd.Flags().Duration("length", 5*time.Second, "length of each recording of --many")
		seed   = cmd.Flags().Uint64("seed", 1, "random seed")
	)
	var overwrite bool
	addOverwriteFolderFlag(cmd.Flags(), &overwrite)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := needOut(*out); err != nil {
			return err
		}
		if err := needEmpty(*out, overwrite); err != nil {
			return err
		}
		switch {
		case *many < 0 || *many > mostRecordings:
			return usageError{fmt.Errorf("--many %d: give a number from 1 to %d", *many, mostRecordings)}
		case *many > 0 && *people != "":
			return usageError{errors.New("give --people or --many, not both")}
		case *many == 0 && cmd.Flags().Changed("length"):
			return usageError{errors.New("--length belongs to --many: --people gives each recording its duration")}
		case *many > 0:
			if err := synth.WriteMany(cmd.Context(), *out, *many, *length, *seed); err != nil {
				return err
			}
		case *people != "":
			s, err := synth.LoadScenario(*people)
			if err != nil {
				return err
			}
			if err := s.Write(cmd.Context(), *out, *seed); err != nil {
				return err
			}
		default:
			if err := synth.WriteDemo(cmd.Context(), *out, *seed); err != nil {
				return err
			}
		}
		printWritten(cmd.OutOrStdout(), []string{*out})
		return nil
	}
	return cmd
}
