package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/pipeline"
	"phonocycle/pipeline/table"
)

func newWindows() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "windows --data DIR --layout NAME --states DIR --out DIR",
		Short: "Cut recordings into windows of one length, for networks",
		Long: `Reads the states table in the folder --states, written by run or segment, and
the recordings it speaks of, and writes the tables recordings and windows. A
window is a row with the samples at 1 kHz, band-limited to 25 to 400 Hz, and the
state of each sample, as lists of one length, with the labels of the recording.

With --align cycle there is one window a whole cardiac cycle, from the start of
its S1; zeros follow where the cycle ends before the window, and the column cut
tells where it ends after. With --align fixed windows follow one another at the
distance --hop through the whole recording; what is left at its end is dropped,
and a recording shorter than a window has one that zeros fill up.`,
		Example: `  phonocycle windows --data circor --layout circor --states results --out windows
  phonocycle windows --data circor --layout circor --states results --source reference \
    --align fixed --length 3s --hop 1s --out windows`,
	}
	flags := addRunFlags(cmd)
	rules := pipeline.DefaultWindowRules()
	states, source := addStatesFlags(cmd)
	cmd.Flags().StringVar(&rules.Align, "align", rules.Align, "where windows begin: at each `cycle`, or fixed")
	cmd.Flags().Var(textFlag{&rules.Length, "time"}, "length", "length of a window")
	cmd.Flags().Var(textFlag{&rules.Hop, "time"}, "hop", "distance of fixed windows")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *states == "" {
			return errNoStates
		}
		return runStage(cmd, flags, *asJSON, func(ctx context.Context, c pipeline.Config, p pipeline.Progress) (*pipeline.Report, error) {
			c.Windows = overridden(c.Windows, rules, cmd.Flags())
			return pipeline.Windows(ctx, c, *states, *source, p)
		})
	}
	return cmd
}

// overridden returns the rules of a configuration with those over them that were
// given as flags.
func overridden(file *pipeline.WindowRules, given pipeline.WindowRules, flags *pflag.FlagSet) *pipeline.WindowRules {
	if file == nil {
		return &given
	}
	rules := *file
	if flags.Changed("align") {
		rules.Align = given.Align
	}
	if flags.Changed("length") {
		rules.Length = given.Length
	}
	if flags.Changed("hop") {
		rules.Hop = given.Hop
	}
	return &rules
}

// addStatesFlags adds the flags of stages that go on from a segmentation.
func addStatesFlags(cmd *cobra.Command) (states, source *string) {
	states = cmd.Flags().String("states", "", "`folder` that run or segment wrote")
	source = cmd.Flags().String("source", table.Predicted, "whose states are taken: predicted or reference")
	return states, source
}

var errNoStates = usageError{errors.New("no states: name the folder that run or segment wrote with --states")}
