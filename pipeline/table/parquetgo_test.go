package table

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/parquet-go/parquet-go"
)

// foreignRow has the columns of every as another program might write them:
// other integer and float types, another order, and columns of its own.
type foreignRow struct {
	Remark    string    `parquet:"remark,optional,dict"`
	Text      string    `parquet:"text,dict"`
	MaybeText *string   `parquet:"maybe_text,optional"`
	Sort      string    `parquet:"sort,dict"`
	MaybeSort *string   `parquet:"maybe_sort,optional,dict"`
	X         float32   `parquet:"x"`
	N32       int64     `parquet:"n32,delta"`
	N         int32     `parquet:"n,delta"`
	N64       int32     `parquet:"n64,optional"`
	MaybeN64  *int64    `parquet:"maybe_n64,optional"`
	Yes       bool      `parquet:"yes"`
	At        float64   `parquet:"at_s"`
	MaybeAt   *int64    `parquet:"maybe_at_s,optional"`
	Count     int32     `parquet:"count"`
	When      time.Time `parquet:"when,timestamp(millisecond)"`
	Samples   []float32 `parquet:"samples,list"`
	Counts    []int32   `parquet:"counts,list"`
}

func foreignRows() []foreignRow {
	rows := make([]foreignRow, 300)
	for i := range rows {
		rows[i] = foreignRow{
			Text: fmt.Sprintf("r%03d", i/7), Sort: "S1", X: float32(i) / 4, N32: int64(i*i*2654435%100003 - 50000), N: int32(-i), N64: int32(i*2 + 1),
			Yes: i%3 == 0, At: float64(i) / 1000, Count: int32(i % 5), When: time.UnixMilli(int64(i)).UTC(),
		}
		if i%2 == 0 {
			rows[i].Remark = "even"
			rows[i].MaybeText = new("x")
			rows[i].MaybeSort = new([]string{"AV", "MV"}[i/2%2])
			rows[i].MaybeN64 = new(int64(i) << 40)
			rows[i].MaybeAt = new(int64(i))
		}
		for k := range i % 4 {
			rows[i].Samples = append(rows[i].Samples, float32(k)+0.5)
			rows[i].Counts = append(rows[i].Counts, int32(k))
		}
	}
	return rows
}

// A table that another library wrote is read with the same values.
func TestReadForeign(t *testing.T) {
	for name, b := range foreign(t) {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.parquet")
			if err := os.WriteFile(path, b, 0o644); err != nil {
				t.Fatal(err)
			}
			r, err := Open[every](path)
			if err != nil {
				t.Fatal(err)
			}
			wantColumns := []Column{
				{Name: "remark", Kind: Category}, {Name: "count", Kind: Float},
				{Name: "samples", Kind: FloatVector},
			}
			if diff := cmp.Diff(wantColumns, r.Columns()); diff != "" {
				t.Error(diff)
			}
			if diff := cmp.Diff(foreignWant(), readAll(t, r), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// What Arrow cannot read is refused with the file, the column and a remedy.
func TestReadForeignFaults(t *testing.T) {
	type split struct {
		At float64 `parquet:"at_s,split"`
	}
	type prefix struct {
		Text string `parquet:"text,delta"`
	}
	file := func(write func(io.Writer) error) []byte {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	for name, test := range map[string]struct {
		b    []byte
		want []string
	}{
		"split by bytes": {file(func(w io.Writer) error { return parquet.Write(w, []split{{1}}) }), []string{`column "at_s"`, "plain or dictionary encoding"}},
		"prefixes":       {file(func(w io.Writer) error { return parquet.Write(w, []prefix{{"a"}}) }), []string{`column "text"`, "plain or dictionary encoding"}},
		"other compression": {file(func(w io.Writer) error {
			return parquet.Write(w, []prefix{{"a"}}, parquet.Compression(&parquet.Lz4Raw))
		}), []string{`column "text"`, "Snappy or Zstandard"}},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.parquet")
			if err := os.WriteFile(path, test.b, 0o644); err != nil {
				t.Fatal(err)
			}
			r, err := Open[loose](path)
			if err != nil {
				t.Fatal(err)
			}
			for _, err = range r.Rows() {
			}
			for _, want := range append(test.want, path) {
				if err == nil || !strings.Contains(err.Error(), want) {
					t.Errorf("%v, want %s", err, want)
				}
			}
		})
	}
}

// loose is a row that takes what a file has.
type loose struct {
	Text string  `table:"text,null"`
	At   float64 `table:"at_s,null"`
}

func (loose) Table() Info { return Info{} }

func foreignWant() []Record[every] {
	var want []Record[every]
	for _, f := range foreignRows() {
		row := every{
			Text: f.Text, Sort: f.Sort, X: float64(f.X), MaybeX: math.NaN(), N32: int32(f.N32), N: int(f.N), N64: int64(f.N64),
			MaybeN64: f.MaybeN64, Yes: f.Yes, At: time.Duration(math.Round(f.At * 1e9)),
		}
		if f.MaybeText != nil {
			row.MaybeText, row.MaybeSort = *f.MaybeText, *f.MaybeSort
			row.MaybeAt = new(time.Duration(*f.MaybeAt) * time.Second)
		}
		want = append(want, Record[every]{Row: row, Values: DynamicValues{
			Floats: []float64{float64(f.Count)}, Labels: []string{f.Remark}, Vectors: [][]float32{f.Samples},
		}})
	}
	return want
}

// Another library reads a table of ours with the same values, missing values,
// units, definitions and metadata.
func TestParquetGoReads(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "a.parquet"), everyExtra, everyRows())
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	checkParquetGoMetadata(t, f)

	want := make(map[string][]string) // values of each column, in the words of parquetGoValues
	columns := append(fixedNames(), "label", "feature", "window", "murmur", "classes", "age")
	for _, r := range everyRows() {
		for i, v := range plainValues(&r) {
			want[columns[i]] = append(want[columns[i]], v)
		}
	}
	if diff := cmp.Diff(want, parquetGoValues(t, f)); diff != "" {
		t.Error(diff)
	}
}

func checkParquetGoMetadata(t *testing.T, f *parquet.File) {
	t.Helper()
	for key, want := range map[string]string{
		"phonocycle.table": "every", "phonocycle.table_version": "3",
		"phonocycle.tool": "phonocycle 1.2.3", "phonocycle.config": "sha256:00ff",
	} {
		if got, _ := f.Lookup(key); got != want {
			t.Errorf("%s: %q, want %q", key, got, want)
		}
	}
	text, _ := f.Lookup("phonocycle.columns")
	var docs []struct{ Name, Unit, Doc string }
	if err := json.Unmarshal([]byte(text), &docs); err != nil {
		t.Fatal(err)
	}
	units := make(map[string]string)
	for i, c := range f.Root().Columns() {
		if docs[i].Name != c.Name() {
			t.Errorf("column %d is %s and described as %s", i, c.Name(), docs[i].Name)
		}
		if docs[i].Doc == "" {
			t.Errorf("column %s has no definition", c.Name())
		}
		units[c.Name()] = docs[i].Unit
	}
	if units["at_s"] != "s" || units["feature"] != "Hz" || units["text"] != "" {
		t.Errorf("units %v", units)
	}
}

// parquetGoValues returns the values of each column as text, lists as their
// elements joined by commas and nothing as "null".
func parquetGoValues(t *testing.T, f *parquet.File) map[string][]string {
	t.Helper()
	got := make(map[string][]string)
	names := make([]string, 0)
	for _, path := range f.Schema().Columns() {
		names = append(names, path[0])
	}
	rows := parquet.NewReader(f)
	defer rows.Close()
	buffer := make([]parquet.Row, 8)
	for {
		n, err := rows.ReadRows(buffer)
		for _, row := range buffer[:n] {
			row.Range(func(column int, values []parquet.Value) bool {
				text := ""
				for i, v := range values {
					if i > 0 {
						text += ","
					}
					text += parquetGoText(v)
				}
				got[names[column]] = append(got[names[column]], text)
				return true
			})
		}
		if err != nil {
			return got
		}
	}
}

func parquetGoText(v parquet.Value) string {
	if v.IsNull() {
		return "null"
	}
	switch v.Kind() {
	case parquet.Double:
		return strconv.FormatFloat(v.Double(), 'g', -1, 64)
	case parquet.Float:
		return strconv.FormatFloat(float64(v.Float()), 'g', -1, 32)
	case parquet.ByteArray:
		return strconv.Quote(string(v.ByteArray()))
	}
	return v.String()
}
