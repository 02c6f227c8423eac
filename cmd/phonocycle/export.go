package main

import (
	"bufio"
	"errors"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/table/export"
)

func newCSV() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "csv --table DIR",
		Short: "Print a table as comma-separated values",
		Long: `Prints one table as comma-separated values, for programs that do not read Parquet.
A null is an empty cell.

A text that a spreadsheet would run as a formula, since it begins with = + - @ or
white space, gets an apostrophe before it; numbers never do. To read the text
back, take one apostrophe away wherever apostrophes lead to such a character, or
print the texts as they are with --raw.`,
		Example: `  phonocycle csv --table circor-results/recordings > recordings.csv
  phonocycle csv --table circor-results/cycles --columns recording,index,rr_interval_s`,
	}
	dir := cmd.Flags().String("table", "", "`folder` of the table, such as circor-results/people")
	columns := cmd.Flags().StringSlice("columns", nil, "`names` of the columns to print, separated by commas; by default all except vectors")
	raw := cmd.Flags().Bool("raw", false, "print texts as they are, for programs; a spreadsheet may run them as formulas")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *dir == "" {
			return usageError{errors.New("no table: give its folder with --table")}
		}
		w := bufio.NewWriter(dataOutput(cmd))
		if err := export.WriteCSV(w, *dir, export.CSVOptions{Columns: *columns, Raw: *raw}); err != nil {
			return err
		}
		return w.Flush()
	}
	return cmd
}

// dataOutput returns where data go that other programs read: as they are, unless
// they go to a terminal.
func dataOutput(cmd *cobra.Command) io.Writer {
	if p, ok := cmd.OutOrStdout().(*printable.Writer); ok && !isTerminal(p.To) {
		return p.To
	}
	return cmd.OutOrStdout()
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
	var overwrite bool
	addOverwriteFolderFlag(cmd.Flags(), &overwrite)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if *from == "" || *out == "" {
			return usageError{errors.New("give the folder of a table with --table, and an output folder with --out")}
		}
		name, err := export.Partition(cmd.Context(), *from, *out, overwrite)
		if err != nil {
			return err
		}
		printWritten(cmd.OutOrStdout(), []string{filepath.Join(*out, name)})
		return nil
	}
	return cmd
}
