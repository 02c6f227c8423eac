package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/table/export"
)

func newPartition() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "partition --table DIR --out DIR",
		Short: "Copy a table into one folder a data set",
		Long: `Copies the table in the folder --table, which is one of recordings, cycles, people
or windows, into one folder a data set, as DIR/cycles/data_set=NAME/, so that a
query engine reads only those that are asked for.`,
		Example: `  phonocycle partition --table both/cycles --out by-data-set`,
	}
	from := cmd.Flags().String("table", "", "`folder` of one table")
	out := cmd.Flags().String("out", "", "output `folder`")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *from == "" || *out == "" {
			return usageError{errors.New("name the folder of a table with --table, and where to copy it with --out")}
		}
		name, err := export.Partition(cmd.Context(), *from, *out)
		if err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "Written: %s\n", filepath.Join(*out, name))
		return nil
	}
	return cmd
}
