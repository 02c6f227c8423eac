package export

import (
	"bytes"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/table"
)

// Values come back from the cells as they were, and nulls as nothing.
func TestWriteCSV(t *testing.T) {
	p := table.PartsOf[table.Cycle](t.TempDir())
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	columns := []table.Column{
		{Name: "murmur", Kind: table.Category}, {Name: "window", Kind: table.FloatVector, Length: 1},
		{Name: "feature", Kind: table.Float}, {Name: "other", Kind: table.Float},
	}
	third := 1.0 / 3
	for part := range 2 {
		w, err := table.Create[table.Cycle](p.Path(part), columns, table.Metadata{})
		if err != nil {
			t.Fatal(err)
		}
		row := table.Cycle{Recording: `a,"b"`, Person: "1", Origin: table.Predicted, Index: int32(part), End: 1234567 * time.Microsecond}
		cells := table.DynamicValues{Labels: []string{[]string{"Present", ""}[part]}, Floats: []float64{third, math.NaN()}, Vectors: [][]float32{{1}}}
		if err := w.Append(row, cells); err != nil {
			t.Fatal(err)
		}
		if err := w.Commit(); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := WriteCSV(&b, p.Dir, CSVOptions{}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	cell := func(row int, name string) string { return rows[row][slices.Index(rows[0], name)] }
	if slices.Contains(rows[0], "window") {
		t.Error("a vector has no cell")
	}
	if x, err := strconv.ParseFloat(cell(1, "feature"), 64); err != nil || x != third {
		t.Errorf("feature %v, %v", x, err)
	}
	for _, tt := range []struct {
		row        int
		name, want string
	}{
		{1, "recording", `a,"b"`}, {1, "murmur", "Present"}, {2, "murmur", ""}, {2, "index", "1"},
		{1, "end_s", "1.234567"}, {1, "other", ""}, {1, "fold", ""},
	} {
		if slices.Contains(rows[0], tt.name) && cell(tt.row, tt.name) != tt.want {
			t.Errorf("row %d: %s is %q, want %q", tt.row, tt.name, cell(tt.row, tt.name), tt.want)
		}
	}

	b.Reset()
	if err := WriteCSV(&b, p.Dir, CSVOptions{Columns: []string{"index", "recording"}}); err != nil || b.String() != "index,recording\n0,\"a,\"\"b\"\"\"\n1,\"a,\"\"b\"\"\"\n" {
		t.Errorf("%q, %v", b.String(), err)
	}
	if err := WriteCSV(&b, p.Dir, CSVOptions{Columns: []string{"window"}}); err == nil || !strings.Contains(err.Error(), "window") {
		t.Errorf("a vector: %v", err)
	}
	if err := WriteCSV(&b, p.Dir, CSVOptions{Columns: []string{"recordng"}}); err == nil || !strings.Contains(err.Error(), `did you mean "recording"?`) {
		t.Errorf("a misspelt column: %v", err)
	}
	if err := WriteCSV(&b, filepath.Dir(p.Dir), CSVOptions{}); err == nil || !strings.Contains(err.Error(), "results/recordings") {
		t.Errorf("a folder of tables: %v", err)
	}
}

// A text that a spreadsheet would run begins with an apostrophe, a number does
// not, and both are as they were where the caller asks for it.
func TestFormulasInCSV(t *testing.T) {
	p := table.PartsOf[table.Cycle](t.TempDir())
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	columns := []table.Column{{Name: "=murmur", Kind: table.Category}, {Name: "f", Kind: table.Float}}
	w, err := table.Create[table.Cycle](p.Path(0), columns, table.Metadata{})
	if err != nil {
		t.Fatal(err)
	}
	row := table.Cycle{Recording: "=HYPERLINK(1)", Person: "-1", Origin: table.Predicted}
	if err := w.Append(row, table.DynamicValues{Labels: []string{"@x"}, Floats: []float64{-2}}); err != nil {
		t.Fatal(err)
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	o := CSVOptions{Columns: []string{"recording", "person", "=murmur", "f"}}
	for _, tt := range []struct {
		raw  bool
		want string
	}{
		{false, "recording,person,'=murmur,f\n'=HYPERLINK(1),-1,'@x,-2\n"},
		{true, "recording,person,=murmur,f\n=HYPERLINK(1),-1,@x,-2\n"},
	} {
		var b bytes.Buffer
		o.Raw = tt.raw
		if err := WriteCSV(&b, p.Dir, o); err != nil || b.String() != tt.want {
			t.Errorf("raw %v: %q, %v", tt.raw, b.String(), err)
		}
	}
}

// fullWriter takes so many bytes and no more.
type fullWriter int

func (w *fullWriter) Write(p []byte) (int, error) {
	n := min(len(p), int(*w))
	if *w -= fullWriter(n); n < len(p) {
		return n, errFull
	}
	return n, nil
}

var errFull = errors.New("no room")

// Wherever the output becomes full, WriteCSV says so; so it does where a file of
// the table is damaged.
func TestWriteCSVFails(t *testing.T) {
	p := table.PartsOf[table.Score](t.TempDir())
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	w, err := table.Create[table.Score](p.Path(0), nil, table.Metadata{})
	if err != nil {
		t.Fatal(err)
	}
	for range 200 { // more than csv.Writer holds back
		if err := w.Append(table.Score{Recording: "a recording"}, table.DynamicValues{}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	var whole bytes.Buffer
	if err := WriteCSV(&whole, p.Dir, CSVOptions{}); err != nil || whole.Len() < 5000 {
		t.Fatalf("%d bytes, %v", whole.Len(), err)
	}
	for room := 0; room < whole.Len(); room += 997 {
		full := fullWriter(room)
		if err := WriteCSV(&full, p.Dir, CSVOptions{}); !errors.Is(err, errFull) {
			t.Errorf("room for %d of %d bytes: %v", room, whole.Len(), err)
		}
	}
	room := fullWriter(whole.Len())
	if err := WriteCSV(&room, p.Dir, CSVOptions{}); err != nil {
		t.Errorf("room for all: %v", err)
	}
	content, err := os.ReadFile(p.Path(0))
	if err != nil {
		t.Fatal(err)
	}
	content[len(content)/2] ^= 1
	if err := os.WriteFile(p.Path(0), content, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := WriteCSV(&bytes.Buffer{}, p.Dir, CSVOptions{}); err == nil || !strings.Contains(err.Error(), p.Path(0)) {
		t.Errorf("a damaged file: %v", err)
	}
}
