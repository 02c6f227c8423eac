package main

import (
	"github.com/spf13/cobra"

	"phonocycle/features"
	"phonocycle/pipeline/dictionary"
)

func newDictionary() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "dictionary [NAME...]",
		Short: "Explain columns of the tables, or print the catalogue of features",
		Long: `With names, explains these columns, of whatever table they are: unit, definition,
source, range, and the meaning of null. In a name * stands for any characters. Labels
are those of the built-in layouts.

Without names, prints all features of cycles and recordings. The columns of the tables
are made from this catalogue.

In Markdown, the statistics over the cycles of a recording are explained once. In
JSON, each column has an object.`,
		Example: `  phonocycle dictionary outcome s1_duration_s_mean 'method_*'
  phonocycle dictionary > features.md
  phonocycle dictionary --json`,
	}
	asJSON := cmd.Flags().Bool("json", false, "print JSON instead of Markdown")
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		if len(names) > 0 {
			d, err := dictionary.Explain(names)
			if err != nil {
				return err
			}
			if *asJSON {
				return printJSON(cmd.OutOrStdout(), d)
			}
			return d.WriteText(cmd.OutOrStdout())
		}
		if *asJSON {
			return features.WriteJSON(cmd.OutOrStdout(), features.Catalogue())
		}
		return features.WriteMarkdown(cmd.OutOrStdout())
	}
	return cmd
}
