package main

import (
	"bufio"
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/table/export"
)

func newCSV() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "csv --table DIR",
		Short: "Print a table as comma-separated values",
		Long: `Prints the table in the folder --table, such as results/people, as comma-separated
values, for programs that do not read Parquet. A null is an empty cell.`,
		Example: `  phonocycle csv --table results/recordings > recordings.csv
  phonocycle csv --table results/cycles --columns recording,index,rr_interval_s`,
	}
	dir := cmd.Flags().String("table", "", "`folder` of one table")
	columns := cmd.Flags().StringSlice("columns", nil, "`names` of columns, separated by commas; by default all but vectors")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *dir == "" {
			return usageError{errors.New("no table: name the folder of one with --table")}
		}
		w := bufio.NewWriter(cmd.OutOrStdout())
		if err := export.WriteCSV(w, *dir, *columns); err != nil {
			return err
		}
		return w.Flush()
	}
	return cmd
}
