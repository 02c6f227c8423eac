package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"

	"phonocycle/eval"
	"phonocycle/eval/tabular"
	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/rundir"
)

// caution stands in the help of every command and at the end of every summary.
const caution = `Research use only: phonocycle measures intervals and spectra and names no disease.
Its output is not for diagnosis; clinical questions go to licensed practitioners.`

// printReport prints what a stage did. It returns errPartly if recordings
// failed.
func printReport(w io.Writer, r *rundir.Report, asJSON bool) error {
	if !asJSON {
		printReportText(w, r)
		return partly(r)
	}
	err := printJSON(w, struct {
		Counts   rundir.Counts    `json:"counts"`
		Selected string           `json:"selected,omitempty"`
		Cost     *rundir.Cost     `json:"cost,omitempty"`
		Problems []rundir.Problem `json:"problems"`
		Warnings []string         `json:"warnings"`
		Summary  *eval.Summary    `json:"summary,omitempty"`
		Written  []string         `json:"written"`
		Seconds  float64          `json:"seconds"`
	}{r.Counts, r.Selected, r.Cost, orEmpty(r.Problems), orEmpty(r.Warnings), r.Summary, r.Written, r.Elapsed.Round(time.Millisecond).Seconds()})
	if err != nil {
		return err
	}
	return partly(r)
}

// partly returns errPartly if recordings failed.
func partly(r *rundir.Report) error {
	if r.Counts.Failed > 0 {
		return errPartly
	}
	return nil
}

func printReportText(w io.Writer, r *rundir.Report) {
	c := r.Counts
	printSelected(w, r.Selected)
	fmt.Fprintf(w, "%d recordings: %d done, %d failed, %d excluded; %.1f s\n", c.In, c.Done, c.Failed, c.Excluded, r.Elapsed.Seconds())
	if r.Cost != nil {
		fmt.Fprintln(w, r.Cost.Words(c.In))
	}
	if more := c.Failed + c.Excluded - printProblems(w, r.Problems); more > 0 {
		fmt.Fprintf(w, "  … and %d more; the table recordings has all of them\n", more)
	}
	for _, warning := range r.Warnings {
		if r.Summary != nil && slices.Contains(r.Summary.Warnings, warning) {
			continue // printed with the scores
		}
		fmt.Fprintln(w, "warning:", warning)
	}
	if r.Summary != nil {
		fmt.Fprintln(w)
		r.Summary.WriteText(w)
	}
	fmt.Fprintln(w)
	printWritten(w, r.Written)
}

// printSelected says how many recordings were selected by lists, if any were.
func printSelected(w io.Writer, selected string) {
	if selected != "" {
		fmt.Fprintln(w, selected)
	}
}

// orEmpty makes a nil slice an empty list in JSON.
func orEmpty[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// printProblems lists the first recordings that failed or were excluded. It
// returns their number.
func printProblems(w io.Writer, problems []rundir.Problem) int {
	const limit = 20
	n := min(limit, len(problems))
	for _, p := range problems[:n] {
		fmt.Fprintf(w, "  %s %s: %s\n", p.Outcome, p.Recording, p.Reason)
	}
	return n
}

// result is the result of a command that writes no files.
type result interface {
	WriteText(io.Writer) error
	WriteTable(io.Writer, tabular.Format) error
}

// printResult prints a result as a table if a format is given, as JSON, or as
// text with the caution.
func printResult(w io.Writer, r result, asJSON bool, table tabular.Format) error {
	if table != "" {
		return r.WriteTable(w, table)
	}
	if asJSON {
		return printJSON(w, r)
	}
	if err := r.WriteText(w); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\n%s\n", caution)
	return err
}

// printWritten lists the files and folders that were written, with the caution.
func printWritten(w io.Writer, paths []string) {
	fmt.Fprintln(w, "Written:")
	for _, path := range paths {
		fmt.Fprintln(w, " ", path)
	}
	fmt.Fprintf(w, "\n%s\n", caution)
}

// printJSON prints a value as indented JSON.
func printJSON(w io.Writer, v any) error {
	text, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(printable.JSON(append(text, '\n')))
	return err
}
