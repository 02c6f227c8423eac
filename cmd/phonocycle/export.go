package main

import (
	"bufio"
	"errors"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/table/export"
)

func newCSV() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "csv --table DIR",
		Short: "Print a table as comma-separated values",
		Long: `Prints one table as comma-separated values, for programs that do not read Parquet.
A null is an empty cell. Vectors fit into no cell: the signals of the table windows
are in its Parquet files, and in NumPy files with windows --format npy.

--columns takes patterns, in which * stands for any characters. --where compares a
column with a value: murmur=Absent, murmur!=Absent, confidence>=0.9; murmur= selects
missing values. Given several times, all must hold.

A text that a spreadsheet would run as a formula, since it begins with = + - @ or
white space, gets an apostrophe before it; numbers never do. To read the text
back, take one apostrophe away wherever apostrophes lead to such a character, or
print the texts as they are with --raw.`,
		Example: `  phonocycle csv --table circor-results/recordings > recordings.csv
  phonocycle csv --table both/recordings --where data_set=circor --columns 'recording,murmur,*_mean' --digits 6 --gzip > circor.csv.gz`,
	}
	dir := cmd.Flags().String("table", "", "`folder` of the table, such as circor-results/people")
	var o export.CSVOptions
	cmd.Flags().StringSliceVar(&o.Columns, "columns", nil, "`names` or patterns of the columns to print, separated by commas; by default all except vectors")
	where := addWhereFlag(cmd.Flags(), "rows to print")
	cmd.Flags().IntVar(&o.Digits, "digits", 0, "significant digits of numbers with a fraction; 0 prints as many as give the number back")
	cmd.Flags().BoolVar(&o.Gzip, "gzip", false, "compress with gzip; the same table gives the same bytes")
	cmd.Flags().BoolVar(&o.Raw, "raw", false, "print texts as they are, for programs; a spreadsheet may run them as formulas")
	cmd.RunE = func(cmd *cobra.Command, _ []string) (err error) {
		if *dir == "" {
			return usageError{errors.New("no table: give its folder with --table")}
		}
		if o.Where, err = export.ParseConditions(*where); err != nil {
			return usageError{err}
		}
		to := dataOutput(cmd)
		if o.Gzip && to == cmd.OutOrStdout() {
			return usageError{errors.New("compressed text is not for a terminal: write it to a file, as in csv --gzip ... > table.csv.gz")}
		}
		w := bufio.NewWriter(to)
		if err := export.WriteCSV(w, *dir, o); err != nil {
			return err
		}
		return w.Flush()
	}
	return cmd
}

// addWhereFlag adds the flag that selects rows by their values.
func addWhereFlag(set *pflag.FlagSet, what string) *[]string {
	return set.StringArray("where", nil, what+": those that fulfil the `condition` on a column, such as murmur=Absent or confidence>=0.9; repeat for several")
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
