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
		Long: `Prints one table as comma-separated values, for programs that do not read Parquet.
A null is an empty cell.`,
		Example: `  phonocycle csv --table circor-results/recordings > recordings.csv
  phonocycle csv --table circor-results/cycles --columns recording,index,rr_interval_s`,
	}
	dir := cmd.Flags().String("table", "", "`folder` of the table, such as circor-results/people")
	columns := cmd.Flags().StringSlice("columns", nil, "`names` of the columns to print, separated by commas; by default all except vectors")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *dir == "" {
			return usageError{errors.New("no table: give its folder with --table")}
		}
		w := bufio.NewWriter(cmd.OutOrStdout())
		if err := export.WriteCSV(w, *dir, *columns); err != nil {
			return err
		}
		return w.Flush()
	}
	return cmd
}
