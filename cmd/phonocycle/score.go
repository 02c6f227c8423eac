package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/workers"
)

func newScore() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "score --states DIR --out DIR",
		Short: "Score a segmentation, also one of another program",
		Long: `Compares the predicted with the reference states in a folder that run or segment
wrote. Writes the tables matches and scores, and summary.json. Give other rules than
those of the run to see how the scores change. With --reference, --data and
--layout it scores the same states against another reference of the data set; the
output folder then holds all that compare, audit and report read.

With --predictions it scores the output of another program on the recordings of
--data. This output can be Parquet files with the columns recording, state, start_s
and end_s. It can also be text that a YAML file (--format) describes, with the same
keys as the reference of a layout: kind, paths, key, match, columns, unit, base,
states, delimiter and header. One more key is rate: give it if times are sample
numbers at another rate than that of the recording.

A score says on whom the method was fitted. For predictions the format can say so
with the key fitted-on: a list of people, the name of a file with one id per line,
or folds with one such list for each fold. Such people are treated as those of a
model are, see --training-overlap. --folds-from names the cross-validation whose
folds were used instead. A format that holds fitted-on alone belongs to Parquet
files.

Recordings without a prediction are listed, and all their sounds count as missed.
A prediction for a recording that --data does not have is an error. compare, audit
and report read the output folder like that of a run.`,
		Example: `  phonocycle score --states circor-results --tolerance 40ms --training-overlap leave-out --out circor-40ms
  phonocycle score --predictions theirs.csv --format theirs.yaml --data circor --layout circor --out circor-theirs`,
	}
	flags := addSourceFlags(cmd).addSelectionFlags().addReferenceFlag().addChannelFlag().addScoringFlags()
	flags.addScoringWorkersFlag()
	flags.set.StringVar(&flags.given.Out, "out", "", "output `folder`; with --states it may be the same folder")
	flags.set.BoolVar(&flags.given.Resume, "resume", false, "continue an interrupted scoring of --predictions at its first missing part")
	addOverwriteFolderFlag(flags.set, &flags.given.Overwrite)
	states := cmd.Flags().String("states", "", "`folder` that run or segment wrote")
	var predictions source.Predictions
	cmd.Flags().StringVar(&predictions.Path, "predictions", "", "`folder` or file that another program wrote; replaces --states")
	cmd.Flags().StringVar(&predictions.Format, "format", "", "YAML `file` that describes predictions in text files, and on whom their program was fitted")
	cmd.Flags().StringVar(&predictions.FoldsFrom, "folds-from", "", "`folder` that crossval wrote: each recording is predicted by a model that was not fitted on people of its fold there")
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		report, err := scoreReport(cmd, flags, *states, predictions)
		if err != nil {
			return err
		}
		if table.format == "" {
			return printReport(cmd.OutOrStdout(), report, *asJSON)
		}
		if err := report.Summary.WriteTable(cmd.OutOrStdout(), table.format); err != nil {
			return err
		}
		return partly(report)
	}
	return cmd
}

// scoreReport scores the states in a folder or the predictions of another
// program.
func scoreReport(cmd *cobra.Command, flags *configFlags, states string, predictions source.Predictions) (*rundir.Report, error) {
	switch {
	case predictions.Path != "" && states != "":
		return nil, usageError{errors.New("give --states or --predictions, not both")}
	case predictions.Path != "":
		return stageReport(cmd, flags, func(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
			return pipeline.ScorePredictions(ctx, c, predictions, p)
		})
	case states == "":
		return nil, errNoStates
	}
	for _, name := range []string{"channel", "resume", "format", "folds-from"} {
		if flags.set.Changed(name) {
			return nil, usageError{fmt.Errorf("--%s belongs to --predictions: --states scores what its folder holds", name)}
		}
	}
	c, err := statesConfig(flags)
	if err := errors.Join(err, needOut(c.Out), flags.check(c)); err != nil {
		return nil, err
	}
	return pipeline.ScoreStates(cmd.Context(), c, states, newProgress(cmd.ErrOrStderr()))
}

// statesConfig returns the configuration of a scoring of states, which needs data
// only to read another reference.
func statesConfig(flags *configFlags) (config.Config, error) {
	if len(flags.data)+len(flags.layouts) > 0 {
		return flags.config()
	}
	if flags.file == "" {
		return flags.given, nil
	}
	err := flags.load()
	return flags.given, err
}
