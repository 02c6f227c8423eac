// Command columns prints a line for each column of each table below a folder:
// its unit, whether it is dictionary-encoded, the number of values and of nulls,
// and a digest of the values. It reads with parquet-go, which shares no code with
// the Arrow library that wrote the tables. columns.mjs does the same with
// hyparquet.
//
// The digest is SHA-256 over one line per value, in their order: N for a null, s
// and the text of a string, i and a decimal integer, b and true or false, f and
// the sixteen hex digits of a 64-bit float. A list is a line [, its elements, and
// a line ].
package main

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"log"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/parquet-go/parquet-go"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: columns FOLDER")
	}
	files, err := filepath.Glob(filepath.Join(os.Args[1], "*", "*.parquet"))
	if err != nil || len(files) == 0 {
		log.Fatal("no tables below ", os.Args[1])
	}
	for _, file := range files {
		if err := print(file); err != nil {
			log.Fatal(file, ": ", err)
		}
	}
}

// column holds what is printed for one column.
type column struct {
	name, unit   string
	list         bool
	dictionary   bool
	values, null int
	digest       hash.Hash
}

func print(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	p, err := parquet.OpenFile(f, info.Size())
	if err != nil {
		return err
	}
	columns, err := columnsOf(p)
	if err != nil {
		return err
	}
	for _, group := range p.RowGroups() {
		if err := readGroup(group, columns); err != nil {
			return err
		}
	}
	table := filepath.Base(filepath.Dir(path)) + "/" + filepath.Base(path)
	for _, c := range columns {
		fmt.Printf("%s %s unit=%q dictionary=%v values=%d null=%d %x\n", table, c.name, c.unit, c.dictionary, c.values, c.null, c.digest.Sum(nil)[:8])
	}
	return nil
}

func columnsOf(p *parquet.File) ([]column, error) {
	metadata, _ := p.Lookup("phonocycle.columns")
	var docs []struct{ Name, Unit string }
	if err := json.Unmarshal([]byte(metadata), &docs); err != nil {
		return nil, fmt.Errorf("metadata of the columns: %w", err)
	}
	paths := p.Schema().Columns()
	columns := make([]column, len(paths))
	for i, path := range paths {
		columns[i] = column{name: path[0], unit: docs[i].Unit, list: len(path) > 1, digest: sha256.New()}
		for _, group := range p.Metadata().RowGroups {
			for _, e := range group.Columns[i].MetaData.Encoding {
				if strings.HasSuffix(e.String(), "_DICTIONARY") {
					columns[i].dictionary = true
				}
			}
		}
	}
	return columns, nil
}

func readGroup(group parquet.RowGroup, columns []column) error {
	rows := group.Rows()
	defer rows.Close()
	buffer := make([]parquet.Row, 64)
	for {
		n, err := rows.ReadRows(buffer)
		for _, row := range buffer[:n] {
			row.Range(func(i int, values []parquet.Value) bool {
				columns[i].add(values)
				return true
			})
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// add adds the values of one row.
func (c *column) add(values []parquet.Value) {
	c.values++
	if c.list {
		fmt.Fprintln(c.digest, "[")
		for _, v := range values {
			write(c.digest, v)
		}
		fmt.Fprintln(c.digest, "]")
		return
	}
	if values[0].IsNull() {
		c.null++
	}
	write(c.digest, values[0])
}

func write(w io.Writer, v parquet.Value) {
	switch {
	case v.IsNull():
		fmt.Fprintln(w, "N")
	case v.Kind() == parquet.Double:
		fmt.Fprintf(w, "f%016x\n", math.Float64bits(v.Double()))
	case v.Kind() == parquet.Float:
		fmt.Fprintf(w, "f%016x\n", math.Float64bits(float64(v.Float())))
	case v.Kind() == parquet.Int32:
		fmt.Fprintf(w, "i%d\n", v.Int32())
	case v.Kind() == parquet.Int64:
		fmt.Fprintf(w, "i%d\n", v.Int64())
	case v.Kind() == parquet.Boolean:
		fmt.Fprintf(w, "b%v\n", v.Boolean())
	default:
		fmt.Fprintf(w, "s%s\n", v.ByteArray())
	}
}
