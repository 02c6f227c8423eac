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
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/yamlcheck"
)

func main() {
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // as nohup has it
		signals = append(signals, syscall.SIGHUP)
	}
	ctx, stop := signal.NotifyContext(context.Background(), signals...)
	status := execute(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// execute runs the command line and returns the exit status. All that a command
// prints passes a [printable.Writer].
func execute(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	out, errOut := &printable.Writer{To: stdout}, &printable.Writer{To: stderr}
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if out.Err != nil && (err == nil || errors.Is(err, errPartly)) {
		err = fmt.Errorf("print the result: %w; files that were to be written are complete", out.Err)
	}
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errPartly):
		return exitPartly
	}
	fmt.Fprintln(errOut, "phonocycle:", message(err))
	if usage := (usageError{}); errors.As(err, &usage) {
		return exitUsage
	}
	return exitFailed
}

// revision is the commit that the program was built from, as make dist sets it.
var revision string

// version is what --version prints.
func version() string {
	if revision == "" {
		return rundir.Version
	}
	return rundir.Version + " (" + revision + ")"
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
		Version:           version(),
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{DisableDefaultCmd: true},
		RunE: func(cmd *cobra.Command, _ []string) error {
			return cmd.Help()
		},
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return misuse(cmd, explainFlag(cmd, err)) })
	for _, command := range []func() *cobra.Command{
		newDemo, newScan, newRun, newSegment, newExtract, newScore, newFit, newCrossval, newCompare, newAudit,
		newChoose, newWindows, newLeakage, newCSV, newPartition, newMerge, newSynth, newDegrade, newStudy, newMethods, newLayout, newDictionary, newReport, newExplain, newCompletion,
	} {
		c := command()
		c.Long += "\n\n" + caution
		if c.Args == nil {
			c.Args = noArgs
		}
		root.AddCommand(c)
	}
	root.Args = noArgs
	completeValues(root)
	return root
}

// noArgs refuses arguments that are not flags.
func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if cmd.HasParent() {
		return misuse(cmd, fmt.Errorf("argument %q belongs to no option: options begin with --, as in --data folder", args[0]))
	}
	var names []string
	for _, c := range cmd.Commands() {
		if !c.Hidden {
			names = append(names, c.Name())
		}
	}
	if near := yamlcheck.Nearest(args[0], names); near != "" {
		return misuse(cmd, fmt.Errorf("unknown command %q: did you mean %s?", args[0], near))
	}
	return misuse(cmd, fmt.Errorf("unknown command %q: there are %s", args[0], strings.Join(names, ", ")))
}
