package main

import (
	"io"

	"github.com/spf13/cobra"

	"phonocycle/eval"
	"phonocycle/pipeline/compare"
)

func newAudit() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "audit --results DIR",
		Short: "List reference annotations that may be wrong",
		Long: `Looks for reference annotations that may be wrong and prints the evidence for
each. It looks for S1 and S2 exchanged (judged by the heart rate, by other
recordings of the same person, or by several methods), for durations out of
range, wrong order, gaps, and disagreement with all methods.

Give several runs of the same recordings to compare the reference with several
methods. Give --data and --layout to get the file and line of each problem of
order and each gap.

A finding is a reason to look at the annotation. It does not prove an error.`,
		Example: `  phonocycle audit --results circor-results
  phonocycle audit --results circor-results --results circor-peaks --data circor --layout circor --all`,
	}
	results := addResultFlags(cmd)
	flags := addSourceFlags(cmd)
	flags.addHeldReferenceFlag()
	all := cmd.Flags().Bool("all", false, "list all findings instead of the first five of each kind")
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if err := results.check(1); err != nil {
			return err
		}
		o := compare.AuditOptions{Folders: results.folders, Reference: flags.given.Reference}
		if flags.file != "" || len(flags.data)+len(flags.layouts) > 0 {
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
			return printResult(cmd.OutOrStdout(), auditList{audit}, *asJSON, table.format)
		}
		return printResult(cmd.OutOrStdout(), audit, *asJSON, table.format)
	}
	return cmd
}

// auditList is an audit that prints all its findings.
type auditList struct{ *eval.Audit }

func (a auditList) WriteText(w io.Writer) error { return a.WriteList(w) }
