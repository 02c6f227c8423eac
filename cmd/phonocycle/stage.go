package main

import (
	"context"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/workers"
)

// stage is one stage of the pipeline, or all of them.
type stage func(context.Context, config.Config, workers.Progress) (*rundir.Report, error)

// runStage runs a stage and prints what it did.
func runStage(cmd *cobra.Command, flags *configFlags, asJSON bool, run stage) error {
	report, err := stageReport(cmd, flags, run)
	if err != nil {
		return err
	}
	return printReport(cmd.OutOrStdout(), report, asJSON)
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
