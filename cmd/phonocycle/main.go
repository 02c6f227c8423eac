// Command phonocycle runs heart-sound segmentation over whole data sets. It
// finds S1, systole, S2 and diastole in each recording, writes tables of timing
// and spectral features, and scores the segmentation against the reference
// annotations.
//
// Research use only. Its output is not for diagnosis; clinical questions go to
// licensed practitioners.
//
// The exit status is 0 if all is done, 1 if the command failed, 2 if it was
// called wrongly, and 3 if it is done but some recordings failed, which it then
// lists.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/rundir"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := execute(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// execute runs the command line and returns the exit status.
func execute(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errPartly):
		return exitPartly
	}
	fmt.Fprintln(stderr, "phonocycle:", err)
	if usage := (usageError{}); errors.As(err, &usage) {
		return exitUsage
	}
	return exitFailed
}

// newRoot returns the command with all its subcommands.
func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "phonocycle",
		Short: "Segment, measure and score data sets of heart sounds",
		Long: `phonocycle divides every recording of a heart-sound data set into S1, systole, S2
and diastole. It writes tables of timing and spectral features as Parquet files,
and it scores the segmentation against the reference annotations of the data set.

` + caution + `

Exit status: 0 done, 1 failed, 2 wrong usage, 3 done but some recordings failed.`,
		Version:           rundir.Version,
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
		RunE: func(cmd *cobra.Command, _ []string) error {
			return cmd.Help()
		},
	}
	root.SetFlagErrorFunc(misuse)
	for _, command := range []func() *cobra.Command{
		newDemo, newScan, newRun, newSegment, newExtract, newScore, newFit, newCrossval, newCompare, newAudit,
		newWindows, newLeakage, newCSV, newPartition, newMerge, newSynth, newDictionary, newReport, newExplain,
	} {
		c := command()
		c.Long += "\n\n" + caution
		c.Args = noArgs
		root.AddCommand(c)
	}
	root.Args = noArgs
	return root
}

// noArgs refuses arguments that are not flags.
func noArgs(cmd *cobra.Command, args []string) error {
	if err := cobra.NoArgs(cmd, args); err != nil {
		return misuse(cmd, err)
	}
	return nil
}
