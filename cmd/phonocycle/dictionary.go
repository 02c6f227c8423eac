package main

import (
	"github.com/spf13/cobra"

	"phonocycle/features"
)

func newDictionary() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "dictionary",
		Short: "Print the catalogue of features with their definitions",
		Long: `Prints all features of cycles and recordings. Each feature has a name, unit,
definition, source, range, and the meaning of null. The columns of the tables are
made from this catalogue.

In Markdown, the statistics over the cycles of a recording are explained once. In
JSON, each column has an object.`,
		Example: `  phonocycle dictionary > features.md
  phonocycle dictionary --json`,
	}
	asJSON := cmd.Flags().Bool("json", false, "print JSON instead of Markdown")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *asJSON {
			return features.WriteJSON(cmd.OutOrStdout(), features.Catalogue())
		}
		return features.WriteMarkdown(cmd.OutOrStdout())
	}
	return cmd
}
