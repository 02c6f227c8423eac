package main

import (
	"context"

	"github.com/spf13/cobra"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// stage is one stage of the pipeline, or all of them.
type stage func(context.Context, config.Config, workers.Progress) (*rundir.Report, error)

// runsStage makes cmd run a stage and print what it did.
func runsStage(cmd *cobra.Command, flags *configFlags, run stage) *cobra.Command {
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		report, err := stageReport(cmd, flags, run)
		if err != nil {
			return err
		}
		return printReport(cmd.OutOrStdout(), report, *asJSON)
	}
	return cmd
}

// stageReport runs a stage.
func stageReport(cmd *cobra.Command, flags *configFlags, run stage) (*rundir.Report, error) {
	c, err := flags.config()
	if err != nil {
		return nil, err
	}
	if err := needOut(c.Out); err != nil {
		return nil, err
	}
	return run(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
}

// continuesFrom makes a stage of one that continues from the table states; it adds
// the flags that say which states.
func continuesFrom(cmd *cobra.Command, run func(_ context.Context, _ config.Config, folder, source string, _ workers.Progress) (*rundir.Report, error)) stage {
	folder := cmd.Flags().String("states", "", "`folder` that run or segment wrote")
	source := cmd.Flags().String("source", table.Predicted, "`states` to use: predicted or reference")
	return func(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
		if *folder == "" {
			return nil, errNoStates
		}
		return run(ctx, c, *folder, *source, p)
	}
}

func newRun() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run --data DIR --layout NAME --method NAME --out DIR",
		Short: "Segment, measure and score a data set",
		Long: `Segments every recording of a data set, measures the features of each cycle and
recording, and scores the segmentation if there are reference annotations.

Writes the tables recordings, states, cycles, people, matches and scores as Parquet
files; summary.json with the scores and their rules; and manifest.json, which says
what the tables were made from.`,
		Example: `  phonocycle run --data circor --layout circor --method shannon-peaks --out circor-peaks
  phonocycle run --data circor --layout circor --config schmidt-2010 --training-overlap leave-out --out circor-schmidt`,
	}
	return runsStage(cmd, addRunFlags(cmd).addMethodFlags().addModelFlag().addFeaturesFlag().addScoringFlags(), pipeline.Run)
}

func newSegment() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "segment --data DIR --layout NAME --method NAME --out DIR",
		Short: "Segment a data set (first stage of run)",
		Long: `Segments every recording and writes the tables recordings and states. The table
states holds the predicted intervals, and the reference intervals if there are
any. extract and score continue from this table.`,
		Example: `  phonocycle segment --data circor --layout circor --method duration-hmm --out circor-states`,
	}
	return runsStage(cmd, addRunFlags(cmd).addMethodFlags().addModelFlag(), pipeline.Segment)
}

func newExtract() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "extract --data DIR --layout NAME --states DIR --out DIR",
		Short: "Measure the features of segmented recordings (second stage of run)",
		Long: `Reads the table states that run or segment wrote, and the recordings in it. Writes
the tables recordings, cycles and people with all features. With --source
reference it measures the cycles of the reference annotations instead of those
that a method found.`,
		Example: `  phonocycle segment --data circor --layout circor --out circor-states
  phonocycle extract --data circor --layout circor --states circor-states --out circor-features`,
	}
	return runsStage(cmd, addRunFlags(cmd), continuesFrom(cmd, pipeline.Extract))
}

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
gets one window, filled up with zeros.

With --format npy there are, beside the table windows, signal.npy and state.npy
(NumPy format 1.0, one row per window, 32-bit floats and bytes; load them with
mmap_mode="r") and index.csv with the other columns, in the same order.`,
		Example: `  phonocycle windows --data circor --layout circor --states circor-results --out circor-windows
  phonocycle windows --data circor --layout circor --states circor-results --source reference \
    --align fixed --length 3s --hop 1s --format npy --out circor-fixed`,
	}
	return runsStage(cmd, addRunFlags(cmd).addWindowFlags(), continuesFrom(cmd, pipeline.Windows))
}

func newCrossval() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "crossval --data DIR --layout NAME --method NAME --out DIR",
		Short: "Cross-validate a method in folds by person",
		Long: `Splits the people of a data set into folds. For each fold it fits the method to
the people of all other folds, and segments and scores the recordings of this
fold. So no recording is segmented by a model that was fitted to its person.

The folds depend only on --fold-seed, the names of the people, and the labels that
the layout lists under stratify: each fold gets its share of each value of these
labels. The column fold of the tables holds the fold.

Writes the same tables, summary and manifest as run, and the model of each fold
into the folder models. --resume continues an interrupted cross-validation.

A method that has no parameters to fit is scored as it is.

--models-from takes the models of another cross-validation of the same method, with
the same folds, data and options of the fit, and fits none. So the models of one
cross-validation can be scored under several conditions, and with several options of
the method.`,
		Example: `  phonocycle crossval --data circor --layout circor --method logistic-hsmm --out cv
  phonocycle crossval --data circor --layout circor --config springer-2016 --folds 5 --out cv-springer
  phonocycle crossval --data circor --layout circor --method logistic-hsmm --models-from cv \
    --condition noise=pink,snr=5 --out cv-5-db`,
	}
	return runsStage(cmd, addRunFlags(cmd).addMethodFlags().addFitFlags().addModelsFromFlag().addFeaturesFlag().addScoringFlags(), pipeline.Crossval)
}
