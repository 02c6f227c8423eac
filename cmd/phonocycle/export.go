package main

import (
	"bufio"
	"errors"
	"path/filepath"

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

func newPartition() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "partition --table DIR --out DIR",
		Short: "Copy a table into one folder per data set",
		Long: `Copies a table into one folder per data set, such as cycles/data_set=circor/ under
--out. A query engine then reads only the data sets that a query needs. The table
can be recordings, cycles, people or windows.`,
		Example: `  phonocycle partition --table both/cycles --out by-data-set`,
	}
	from := cmd.Flags().String("table", "", "`folder` of the table")
	out := cmd.Flags().String("out", "", "output `folder`")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *from == "" || *out == "" {
			return usageError{errors.New("give the folder of a table with --table, and an output folder with --out")}
		}
		name, err := export.Partition(cmd.Context(), *from, *out)
		if err != nil {
			return err
		}
		printWritten(cmd.OutOrStdout(), []string{filepath.Join(*out, name)})
		return nil
	}
	return cmd
}
