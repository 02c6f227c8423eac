package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"phonocycle/eval"
	"phonocycle/eval/tabular"
	"phonocycle/pipeline"
)

func addJSONFlag(cmd *cobra.Command) *bool {
	return cmd.Flags().Bool("json", false, "print the result as JSON")
}

// runStage runs one stage of the pipeline and prints what it did.
func runStage(cmd *cobra.Command, flags *configFlags, asJSON bool,
	stage func(context.Context, pipeline.Config, pipeline.Progress) (*pipeline.Report, error)) error {

	report, err := stageReport(cmd, flags, stage)
	if err != nil {
		return err
	}
	return printReport(cmd.OutOrStdout(), report, asJSON)
}

// stageReport runs one stage of the pipeline.
func stageReport(cmd *cobra.Command, flags *configFlags,
	stage func(context.Context, pipeline.Config, pipeline.Progress) (*pipeline.Report, error)) (*pipeline.Report, error) {

	c, err := flags.config()
	if err != nil {
		return nil, err
	}
	if err := needOut(&c); err != nil {
		return nil, err
	}
	return stage(cmd.Context(), c, newProgress(cmd.ErrOrStderr()))
}

// printReport prints what a stage did and returns errPartly if recordings
// failed.
func printReport(w io.Writer, r *pipeline.Report, asJSON bool) error {
	if asJSON {
		if err := printReportJSON(w, r); err != nil {
			return err
		}
	} else {
		printReportText(w, r)
	}
	if r.Counts.Failed > 0 {
		return errPartly
	}
	return nil
}

func printReportText(w io.Writer, r *pipeline.Report) {
	c := r.Counts
	fmt.Fprintf(w, "%d recordings: %d done, %d failed, %d excluded; %.1f s\n", c.In, c.Done, c.Failed, c.Excluded, r.Elapsed.Seconds())
	if more := c.Failed + c.Excluded - printProblems(w, r.Problems); more > 0 {
		fmt.Fprintf(w, "  … and %d more; all are in the recordings table\n", more)
	}
	for _, warning := range r.Warnings {
		fmt.Fprintln(w, "warning:", warning)
	}
	if r.Summary != nil {
		fmt.Fprintln(w)
		r.Summary.WriteText(w)
	}
	fmt.Fprintln(w, "\nWritten:")
	for _, path := range r.Written {
		fmt.Fprintln(w, " ", path)
	}
	fmt.Fprintf(w, "\n%s\n", caution)
}

// printProblems lists the first recordings that failed or were left out, and
// returns how many.
func printProblems(w io.Writer, problems []pipeline.Problem) int {
	const most = 20
	for _, p := range problems[:min(most, len(problems))] {
		fmt.Fprintf(w, "  %s %s: %s\n", p.Outcome, p.Recording, p.Reason)
	}
	return min(most, len(problems))
}

func printReportJSON(w io.Writer, r *pipeline.Report) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(struct {
		Counts   pipeline.Counts    `json:"counts"`
		Problems []pipeline.Problem `json:"problems"`
		Warnings []string           `json:"warnings"`
		Summary  *eval.Summary      `json:"summary,omitempty"`
		Written  []string           `json:"written"`
		Seconds  float64            `json:"seconds"`
	}{r.Counts, orEmpty(r.Problems), orEmpty(r.Warnings), r.Summary, r.Written, r.Elapsed.Round(time.Millisecond).Seconds()})
}

// result is what a command that writes no files gives.
type result interface {
	WriteText(io.Writer) error
	WriteTable(io.Writer, tabular.Format) error
}

// tableFlag is the format of a table that is printed in place of the text, or
// empty.
type tableFlag struct{ tabular.Format }

func addTableFlag(cmd *cobra.Command) *tableFlag {
	f := &tableFlag{}
	cmd.Flags().Var(f, "table", "print a table for a paper: markdown, latex, csv, html or text")
	return f
}

func (f *tableFlag) String() string { return string(f.Format) }
func (f *tableFlag) Type() string   { return "format" }
func (f *tableFlag) Set(name string) (err error) {
	f.Format, err = tabular.ParseFormat(name)
	return err
}

// printResult prints a result as JSON, as a table, or as text and the caution.
func printResult(w io.Writer, r result, asJSON bool, table *tableFlag) error {
	if table.Format != "" {
		return r.WriteTable(w, table.Format)
	}
	if asJSON {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(r)
	}
	if err := r.WriteText(w); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\n%s\n", caution)
	return err
}

// orEmpty makes a nil slice an empty list in JSON.
func orEmpty[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}
