// Command phonocycle runs heart-sound segmentation over whole data sets: it
// finds S1, systole, S2 and diastole in each recording, writes tables of timing
// and spectral features, and scores the segmentation against the reference
// annotations.
//
// Research use only. Its output is not for diagnosis; clinical questions go to
// licensed practitioners.
//
// The exit status is 0 when all is done, 1 when the command failed, 2 when it
// was called wrongly, and 3 when it is done but some recordings failed, which
// are then listed.
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

	"phonocycle/pipeline"
)

// The exit statuses.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
	exitPartly = 3
)

// caution stands in the help of every command and at the end of every summary.
const caution = `Research use only: phonocycle measures intervals and spectra and names no disease.
Its output is not for diagnosis; clinical questions go to licensed practitioners.`

// errPartly says that the work is done and some recordings failed.
var errPartly = errors.New("some recordings failed")

// usageError marks an error as one of calling the command.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

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
		Long: `phonocycle segments every recording of a heart-sound data set into S1, systole,
S2 and diastole, writes tables of timing and spectral features as Parquet, and
scores the segmentation against the data set's reference annotations.

` + caution + `

Exit status: 0 done, 1 failed, 2 wrong usage, 3 done with some recordings failed.`,
		Version:           pipeline.Version,
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
		Args:              cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return cmd.Help()
		},
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%w; see '%s --help'", err, cmd.CommandPath())}
	})
	for _, command := range []func() *cobra.Command{
		newDemo, newScan, newRun, newSegment, newExtract, newScore, newFit, newCrossval, newCompare, newAudit,
		newWindows, newLeakage, newCSV, newPartition, newMerge, newSynth, newDictionary, newReport, newExplain,
	} {
		c := command()
		c.Long += "\n\n" + caution
		c.Args = wrongArgs(c.Args)
		root.AddCommand(c)
	}
	root.Args = wrongArgs(root.Args)
	return root
}

// wrongArgs marks what check refuses as an error of usage.
func wrongArgs(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if check == nil {
			check = cobra.NoArgs
		}
		if err := check(cmd, args); err != nil {
			return usageError{fmt.Errorf("%w; see '%s --help'", err, cmd.CommandPath())}
		}
		return nil
	}
}
