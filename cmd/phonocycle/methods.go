package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/methods"
)

func newMethods() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "methods [NAME|FILE|RESULTS]",
		Short: "List the methods and their options, and how to describe and cite them",
		Long: `Lists the methods. With the name of a method, of a built-in run configuration, or
with the YAML file of either, it prints the citation and all options: value, unit,
the values that are accepted, the value of the paper, and where that was found. A
value "from memory" was not checked against the print.

With --paragraph and the output folder of a run, it prints a paragraph for the
methods section of a paper: method, options, data, fit, reference, rules and
counts. With --bibtex it prints the publications of a method, or of the method and
the data sets of a run, as a BibTeX file.`,
		Example: `  phonocycle methods
  phonocycle methods duration-hmm
  phonocycle methods schmidt-2010 --table latex
  phonocycle methods --paragraph circor-results
  phonocycle methods --bibtex circor-results > references.bib`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return misuse(cmd, fmt.Errorf("%d names: give one method, run configuration or output folder", len(args)))
			}
			return nil
		},
	}
	asJSON, table := addJSONFlag(cmd), addTableFlag(cmd)
	paragraph := cmd.Flags().Bool("paragraph", false, "print a paragraph for the methods section of a paper on the run in an output folder")
	bibtex := cmd.Flags().Bool("bibtex", false, "print the publications of a method, or of an output folder, as BibTeX")
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if (*paragraph || *bibtex) && len(args) == 0 {
			return misuse(cmd, errors.New("--paragraph wants an output folder, and --bibtex one or a method"))
		}
		print := func(text string, err error) error {
			if err == nil {
				_, err = fmt.Fprint(cmd.OutOrStdout(), text)
			}
			return err
		}
		switch {
		case *paragraph && *bibtex, (*paragraph || *bibtex) && (*asJSON || table.format != ""):
			return misuse(cmd, errors.New("give one of --paragraph, --bibtex, --json and --table"))
		case *paragraph:
			return print(methods.Paragraph(args[0]))
		case *bibtex:
			return print(methods.BibTeX(args[0]))
		case len(args) == 0:
			list, err := methods.All()
			if err != nil {
				return err
			}
			return printResult(cmd.OutOrStdout(), list, *asJSON, table.format)
		case methods.IsResults(args[0]):
			return misuse(cmd, fmt.Errorf("%s is a folder: give --paragraph or --bibtex, or the name of a method", args[0]))
		}
		description, err := methods.Describe(args[0])
		if err != nil {
			return err
		}
		return printResult(cmd.OutOrStdout(), description, *asJSON, table.format)
	}
	return cmd
}
