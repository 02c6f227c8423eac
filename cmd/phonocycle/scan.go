package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/corpus"
)

func newScan() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "scan --data DIR --layout NAME",
		Short: "List the contents and the problems of a data set",
		Long: `Prints the contents of a data set: recordings, people, hours, sampling rates,
labels, and heart rates of the reference. Then it lists the problems of its files
by file and line, and what run does about each.`,
		Example: `  phonocycle scan --data circor --layout circor
  phonocycle scan --data circor --layout circor --json`,
	}
	flags := addSourceFlags(cmd).addSelectionFlags().addReferenceFlag().addChannelFlag()
	asJSON := addJSONFlag(cmd)
	list := cmd.Flags().String("list", "", "print nothing but the ids of all `people` or recordings, one per line, as --people and --recordings read them")
	all := cmd.Flags().Bool("all", false, "list all problems instead of the first five of each kind")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c, err := flags.config()
		if err != nil {
			return err
		}
		limit := 5 // defects of each kind
		if *all {
			limit = -1
		}
		data, err := corpus.Open(c.Inputs, corpus.Options{Reference: c.Reference, People: c.People, Recordings: c.Recordings})
		if err != nil {
			return err
		}
		defer data.Close()
		if *list != "" {
			return data.WriteNames(cmd.OutOrStdout(), *list)
		}
		inventories, err := data.Scan(cmd.Context(), c.Channel, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		if *asJSON {
			return printJSON(cmd.OutOrStdout(), inventories)
		}
		for i, inv := range inventories {
			if i > 0 {
				fmt.Fprintln(cmd.OutOrStdout())
			}
			if err := inv.WriteText(cmd.OutOrStdout(), limit); err != nil {
				return err
			}
		}
		return nil
	}
	return cmd
}
