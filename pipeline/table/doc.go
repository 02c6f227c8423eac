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
// of a catalogue, are described by Column and travel as [DynamicValues] beside the row.
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
// A vector of a dynamic column, such as a window of samples for a network, is a
// list of fixed size. It passes through in the memory of one row group, some 30
// MiB, however long the table is.
//
// # Files
//
// A table is a folder of part files, part-000000.parquet and so on, each of
// which holds the rows of a fixed run of recordings and exists whole or not at
// all; see Writer and Parts.
//
// Files are Apache Parquet (https://parquet.apache.org/docs/file-format/),
// written through Arrow and compressed with Snappy, which every reader knows.
// The Arrow schema is stored with them, and the metadata of each field holds
// "unit" and "doc", that of a feature also its "source", its "range" and what a
// "null" means. Most readers that do not build on Arrow cannot see the
// metadata of fields; for them the same stands as JSON in the key/value
// metadata of the file:
//
//	phonocycle.table          name of the table
//	phonocycle.table_version  version of its columns
//	phonocycle.tool           name and version of the tool
//	phonocycle.config         digest of the configuration
//	phonocycle.columns        [{"name", "unit", "doc", "source", "range", "null", "length"}, …],
//	                          the last four where the column has them
//	phonocycle.warnings       [what must be known before the table is used, …], where there is any
//	phonocycle.sha256         SHA-256 of the file with zeros in place of these 64 digits
//	phonocycle.sha256.TABLE   in a part of recordings: that of the file of another table which was
//	                          made with it
//
// A reader verifies the digest of a file before it reads a row; Arrow writes no
// checksums of pages. A file with any of these keys must have its digest and the
// version of the table that is known here.
//
// The same rows give the same bytes, on any day, on any machine and for any
// number of workers.
//
// # Files of other programs
//
// A table that another program wrote is read if it has the columns of the
// struct, in any order and with any type that can hold the values: 32-bit
// floats and integers for seconds, 64-bit integers for counts. Further columns
// become dynamic values. Arrow reads values in plain, dictionary and delta
// encodings, uncompressed or compressed with Snappy, Zstandard, gzip or Brotli.
// Anything else is refused with an error that says how to write it.
//
// A file is not trusted. Whatever it states is held against the bytes that are
// there before memory is taken for it. A damaged file ends in an error that names
// the file and the column, not in a panic, a loop or a flood of memory.
package table
