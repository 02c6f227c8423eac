package main

import (
	"context"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/workers"
)

func newWindows() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "windows --data DIR --layout NAME --states DIR --out DIR",
		Short: "Cut recordings into windows of equal length for neural networks",
		Long: `Reads the table states that run or segment wrote, and the recordings in it. Writes
the tables recordings and windows. Each window is one row. It holds the samples at
1 kHz, band-limited to 25–400 Hz, the state of each sample, and the labels of the
recording.

With --align cycle there is one window per whole cardiac cycle. It begins at the
start of S1. If the cycle is shorter than the window, zeros fill the rest. If it is
longer, its end is cut off and the column cut is true.

With --align fixed the windows begin at multiples of --hop. A rest at the end that
is shorter than a window is dropped. A recording that is shorter than a window
gets one window, filled up with zeros.`,
		Example: `  phonocycle windows --data circor --layout circor --states circor-results --out circor-windows
  phonocycle windows --data circor --layout circor --states circor-results --source reference \
    --align fixed --length 3s --hop 1s --out circor-fixed`,
	}
	flags := addRunFlags(cmd)
	rules := config.DefaultWindowRules()
	states := addStatesFlags(cmd)
	cmd.Flags().StringVar(&rules.Align, "align", rules.Align, "`start` of each window: cycle or fixed")
	cmd.Flags().Var(textFlag{&rules.Length, "time"}, "length", "length of a window")
	cmd.Flags().Var(textFlag{&rules.Hop, "time"}, "hop", "time from one fixed window to the next")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := states.check(); err != nil {
			return err
		}
		return runStage(cmd, flags, *asJSON, func(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
			c.Windows = overridden(c.Windows, rules, cmd.Flags())
			return pipeline.Windows(ctx, c, states.folder, states.source, p)
		})
	}
	return cmd
}

// overridden returns the rules of a configuration file, overridden by the flags
// on the command line.
func overridden(file *config.WindowRules, given config.WindowRules, flags *pflag.FlagSet) *config.WindowRules {
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
