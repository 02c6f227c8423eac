package export

import (
	"bytes"
	"compress/gzip"
	"io"
	"strings"
	"testing"

	"phonocycle/pipeline/table"
)

// some writes a table of three recordings and returns its folder.
func some(t *testing.T) string {
	t.Helper()
	p := table.PartsOf[table.Cycle](t.TempDir())
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	columns := []table.Column{
		{Name: "murmur", Kind: table.Category}, {Name: "height_cm", Kind: table.Category, Number: true},
		{Name: "rr_s_mean", Kind: table.Float}, {Name: "rr_s_sd", Kind: table.Float}, {Name: "signal", Kind: table.FloatVector, Length: 2},
	}
	w, err := table.Create[table.Cycle](p.Path(0), columns, table.Metadata{})
	if err != nil {
		t.Fatal(err)
	}
	for i, labels := range [][]string{{"Absent", "98.5"}, {"Present", "1234567.5"}, {"", ""}} {
		row := table.Cycle{Recording: string(rune('a' + i)), Person: "1", Origin: table.Predicted}
		cells := table.DynamicValues{Labels: labels, Floats: []float64{float64(i) + 1.0/3, 0.1}, Vectors: [][]float32{{1, 2}}}
		if err := w.Append(row, cells); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	return p.Dir
}

func TestSelectedCSV(t *testing.T) {
	dir := some(t)
	for _, tt := range []struct {
		columns, where string
		digits         int
		want           string
	}{
		{"recording", "murmur=Absent", 0, "recording\na\n"},
		{"recording", "murmur!=Absent", 0, "recording\nb\nc\n"},
		{"recording", "murmur=", 0, "recording\nc\n"},
		{"recording", "murmur!=", 0, "recording\na\nb\n"},
		{"recording", "height_cm>=98.5", 0, "recording\na\nb\n"},
		{"recording", "height_cm<1e3", 0, "recording\na\n"},
		{"recording", "height_cm=98.50", 0, "recording\na\n"},
		{"recording", "height_cm>98.5;recording=b", 0, "recording\nb\n"},
		{"recording", "height_cm>98.5;murmur=Absent", 0, "recording\n"},
		{"recording", "person=1;murmur=Present", 0, "recording\nb\n"},
		{"recording,rr_*,*_mean", "murmur=Present", 3, "recording,rr_s_mean,rr_s_sd\nb,1.33,0.1\n"},
		{"height_cm", "murmur=Present", 3, "height_cm\n1.23e+06\n"},
		{"height_cm", "murmur=Present", 0, "height_cm\n1.2345675e+06\n"},
	} {
		conditions, err := ParseConditions(strings.Split(tt.where, ";"))
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		o := CSVOptions{Columns: strings.Split(tt.columns, ","), Where: conditions, Digits: tt.digits}
		if err := WriteCSV(&b, dir, o); err != nil || b.String() != tt.want {
			t.Errorf("%s of %s: %q, %v; want %q", tt.columns, tt.where, b.String(), err, tt.want)
		}
	}
}

func TestSelectionErrors(t *testing.T) {
	dir := some(t)
	for _, tt := range []struct{ columns, where, want string }{
		{"rr_s_meen", "", `no column "rr_s_meen": did you mean "rr_s_mean"?`},
		{"*_meen", "", `no column that fits "*_meen": did you mean "*_mean"?`},
		{"rq_*", "", `no column that fits "rq_*": did you mean "rr_*"?`},
		{"*zzzzzzzzz*", "", `fits "*zzzzzzzzz*": it has recording,`},
		{"[", "", "without its ]"},
		{"signal", "", "vector of 2 numbers per row, which fits into no cell: read it from the Parquet files, or as NumPy arrays from windows --format npy"},
		{"recording", "murmr=Absent", `condition murmr=Absent: ` + dir + ` has no column "murmr": did you mean "murmur"?`},
		{"recording", "signal=1", "fits into no cell"},
		{"recording", "murmur=Absnt", "no row has murmur=Absnt: did you mean murmur=Absent?"},
		{"recording", "murmur=normal", "no row has murmur=normal: the values are Absent, Present"},
		{"recording", "murmur", "write a column, one of"},
		{"recording", "=Absent", "write a column, one of"},
		{"recording", "height_cm>tall", `"tall" is not a number`},
	} {
		var o CSVOptions
		var err error
		o.Columns = []string{tt.columns}
		if tt.where != "" {
			o.Where, err = ParseConditions([]string{tt.where})
		}
		var b bytes.Buffer
		if err == nil {
			err = WriteCSV(&b, dir, o)
		}
		if err == nil || !strings.Contains(err.Error(), tt.want) || b.Len() > 0 {
			t.Errorf("%s of %s: %v with %d bytes, want %q", tt.columns, tt.where, err, b.Len(), tt.want)
		}
	}
	for _, digits := range []int{-1, 18} {
		if err := WriteCSV(io.Discard, dir, CSVOptions{Digits: digits}); err == nil {
			t.Errorf("%d digits are taken", digits)
		}
	}
}

// A condition that no row fulfils leaves nothing of a header that is longer than any
// buffer.
func TestNothingOfWideTable(t *testing.T) {
	p := table.PartsOf[table.Cycle](t.TempDir())
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	w, err := table.Create[table.Cycle](p.Path(0), []table.Column{{Name: strings.Repeat("x", 10_000), Kind: table.Category}}, table.Metadata{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Append(table.Cycle{Recording: "a", Person: "1", Origin: table.Predicted}, table.DynamicValues{Labels: []string{""}}); err != nil {
		t.Fatal(err)
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	conditions, err := ParseConditions([]string{"recording=b"})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := WriteCSV(&b, p.Dir, CSVOptions{Where: conditions}); err == nil || b.Len() > 0 {
		t.Errorf("%v, with %d bytes printed", err, b.Len())
	}
}

// Compressed text is the same every time, and the text when it is read.
func TestGzip(t *testing.T) {
	dir := some(t)
	var plain, first, second bytes.Buffer
	for b, compress := range map[*bytes.Buffer]bool{&plain: false, &first: true, &second: true} {
		if err := WriteCSV(b, dir, CSVOptions{Gzip: compress}); err != nil {
			t.Fatal(err)
		}
	}
	r, err := gzip.NewReader(bytes.NewReader(first.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if !r.ModTime.IsZero() || r.Name != "" {
		t.Errorf("the header holds %v and %q", r.ModTime, r.Name)
	}
	if text, err := io.ReadAll(r); err != nil || !bytes.Equal(text, plain.Bytes()) || !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Errorf("%d bytes, %v; want %d, twice the same", len(text), err, plain.Len())
	}
}
