// Package table writes and reads the tables that the stages of phonocycle hand
// to one another: recordings, states, cycles, matches and scores.
//
// # From a Go struct to a column
//
// A table is described by one struct, and a column by one field and its tag:
//
//	Start time.Duration `table:"start_s" unit:"s" doc:"start of the interval"`
//
// The tag `table` holds the column's name and options: "null" (the value may
// be missing), "category" (few distinct values, read as a factor or category
// where the reader has one) and "optional" (a file of another program may lack
// the column). `unit` and `doc` go into the metadata of the field. Columns that
// are known at run time only, such as the labels of a data set or the features
// of a catalogue, are described by Column and travel as Cells beside the row.
//
// # Values
//
//	Go                column                null is
//	string            UTF-8 string          ""
//	float64           64-bit float          NaN
//	int, int64        64-bit integer        (pointer) nil
//	int32             32-bit integer        (pointer) nil
//	bool              boolean               (pointer) nil
//	time.Duration     64-bit float, seconds (pointer) nil
//
// A float column or a string column tagged "null" takes NaN or "" for the
// missing value; without the tag NaN is refused, since a table in which NaN and
// null both occur means something else to every reader. The other types are
// nullable as pointers.
//
// Times are integers of nanoseconds in Go and seconds in the table, because
// seconds are what a reader plots. Nothing is lost on the way: a time t < 2⁵¹ ns
// (26 days) divided by 10⁹ and multiplied again carries two roundings of
// relative size 2⁻⁵³ at most, an error below half a nanosecond, so that rounding
// gives t again (see Seconds and Duration).
//
// # Files
//
// A table is a folder of part files, part-000000.parquet and so on, each of
// which holds the rows of a fixed run of recordings. A part comes into being
// under a temporary name, is synced and is then renamed, and so exists whole or
// not at all; see Writer and Parts.
//
// Files are Apache Parquet, written through Arrow. The Arrow schema is stored
// with them, and each field's metadata holds "unit" and "doc". Since most
// readers that do not build on Arrow cannot see field metadata, the same words
// stand as JSON under the key "phonocycle.columns" of the file's key/value
// metadata, beside "phonocycle.table", "phonocycle.table_version",
// "phonocycle.tool" (name and version of the tool) and "phonocycle.config" (the digest of the
// configuration). Nothing in a file depends on the time, the machine or the
// number of workers: the same rows give the same bytes.
package table
