package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/synth"
)

func newSynth() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "synth --out DIR",
		Short: "Make synthetic recordings with exactly known S1 and S2",
		Long: `Renders recordings of invented people, with the truth to the sample beside each,
and a layout that describes the folder, so that run and scan read it like any
data set. The people come from a YAML table (--people), by default the fictional
screening day of the demo; --many makes short recordings for tests of scale.
The same seed gives the same bytes.`,
		Example: `  phonocycle synth --out village
  phonocycle run --data village --layout village/screening.yaml --out results
  phonocycle synth --many 10000 --length 3s --out many`,
	}
	var (
		out    = cmd.Flags().String("out", "", "output `folder`; must not hold files yet")
		people = cmd.Flags().String("people", "", "YAML `file` with the people and their recordings")
		many   = cmd.Flags().Int("many", 0, "make this `number` of short recordings instead")
		length = cmd.Flags().Duration("length", 5*time.Second, "length of each with --many")
		seed   = cmd.Flags().Uint64("seed", 1, "seed of everything random")
	)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		switch {
		case *out == "":
			return usageError{errors.New("no output folder: name one with --out")}
		case *many < 0:
			return usageError{fmt.Errorf("--many %d: give a number above zero", *many)}
		case *many > 0 && *people != "":
			return usageError{errors.New("--people and --many exclude each other: give one of them")}
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
		fmt.Fprintf(cmd.OutOrStdout(), "Written: %s\n", *out)
		return nil
	}
	return cmd
}
