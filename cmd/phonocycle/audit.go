package main

import (
	"errors"
	"io"

	"github.com/spf13/cobra"

	"phonocycle/eval"
	"phonocycle/pipeline/compare"
)

func newAudit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "audit --results DIR",
		Short: "List the reference annotations that deserve a second look",
		Long: `Looks for reference annotations that may be wrong, and gives the evidence: S1 and
S2 exchanged (by the heart rate, by other recordings of the person, or by what
several methods say), durations out of range, broken order, gaps, disagreement
with all methods. Given several output folders on the same recordings, the
methods in them are heard; given --data and --layout, findings about order and
gaps name the file and line.

A finding is a reason to look and no proof.`,
		Example: `  phonocycle audit --results circor-hmm
  phonocycle audit --results circor-hmm --results circor-shannon --data circor --layout circor --all`,
	}
	results := addResultFlags(cmd.Flags())
	flags := addSourceFlags(cmd)
	all := cmd.Flags().Bool("all", false, "list all findings instead of the first five of each kind")
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if len(results.folders) == 0 {
			return usageError{errors.New("no results: name an output folder with --results")}
		}
		o := compare.AuditOptions{Folders: results.folders, Names: results.names}
		if len(flags.data)+len(flags.layouts) > 0 {
			c, err := flags.config()
			if err != nil {
				return err
			}
			o.Inputs = c.Inputs
		}
		audit, err := compare.Audit(cmd.Context(), o, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		if *all {
			return printResult(cmd.OutOrStdout(), auditList{audit}, *asJSON, table)
		}
		return printResult(cmd.OutOrStdout(), audit, *asJSON, table)
	}
	return cmd
}

// auditList is an audit of which all findings are printed.
type auditList struct{ *eval.Audit }

func (a auditList) WriteText(w io.Writer) error { return a.WriteList(w) }
