package main

import (
	"github.com/spf13/cobra"

	"phonocycle/features"
)

func newDictionary() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "dictionary",
		Short: "Print the catalogue of features with their definitions",
		Long: `Prints every feature of a cycle and of a recording with its name, unit,
definition, source, range and the meaning of null, as Markdown, which names the
statistics over cycles once, or as JSON, which has an object for each column.
The columns of the tables are made from the same catalogue.`,
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
