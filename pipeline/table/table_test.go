package table

import (
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// every holds a field of each type that a row can have.
type every struct {
	Text      string         `table:"text" doc:"a string"`
	MaybeText string         `table:"maybe_text,null" doc:"a string or nothing"`
	Sort      string         `table:"sort,category" doc:"a category"`
	MaybeSort string         `table:"maybe_sort,category,null" doc:"a category or nothing"`
	X         float64        `table:"x" unit:"m" doc:"a number"`
	MaybeX    float64        `table:"maybe_x,null" unit:"m" doc:"a number or nothing"`
	N32       int32          `table:"n32" doc:"an integer"`
	MaybeN32  *int32         `table:"maybe_n32" doc:"an integer or nothing"`
	N         int            `table:"n" doc:"an integer"`
	N64       int64          `table:"n64" doc:"an integer"`
	MaybeN64  *int64         `table:"maybe_n64" doc:"an integer or nothing"`
	Yes       bool           `table:"yes" doc:"yes or no"`
	MaybeYes  *bool          `table:"maybe_yes" doc:"yes, no or nothing"`
	At        time.Duration  `table:"at_s" unit:"s" doc:"a time"`
	MaybeAt   *time.Duration `table:"maybe_at_s" unit:"s" doc:"a time or nothing"`
	Unstored  int
}

func (every) Table() Info { return Info{Name: "every", Version: 3, Doc: "one row a case"} }

var everyExtra = []Column{
	{Name: "label", Doc: "a label", Kind: Category},
	{Name: "feature", Unit: "Hz", Doc: "a feature", Kind: Float},
	{Name: "window", Unit: "1", Doc: "samples", Kind: FloatVector, Length: 3},
	{Name: "murmur", Doc: "another label", Kind: Category},
	{Name: "classes", Doc: "state of each sample", Kind: ByteVector, Length: 2},
}

var everyMeta = Metadata{Tool: "phonocycle 1.2.3", Config: "sha256:00ff", Table: "every", TableVersion: 3}

func everyRows() []Record[every] {
	return []Record[every]{
		{
			Row: every{
				Text: "2530_AV", MaybeText: "here", Sort: "S1", MaybeSort: "AV", X: 1.5, MaybeX: -2.25, N32: math.MinInt32,
				MaybeN32: new(int32(math.MaxInt32)), N: -7, N64: math.MinInt64, MaybeN64: new(int64(math.MaxInt64)),
				Yes: true, MaybeYes: new(false), At: 740 * time.Millisecond, MaybeAt: new(-time.Nanosecond),
			},
			Cells: Cells{Floats: []float64{150.25}, Labels: []string{"Aortic", "Present"}, Vectors: [][]float32{{1, -2, 0.5}}, Bytes: [][]uint8{{0, 255}}},
		},
		{
			Row: every{Text: "", Sort: "", X: math.Inf(-1), MaybeX: math.NaN()},
			Cells: Cells{
				Floats: []float64{math.NaN()}, Labels: []string{"", ""}, Vectors: [][]float32{nil}, Bytes: [][]uint8{nil},
			},
		},
		{
			Row: every{
				Text: "Herzgeräusch 心音 \U0001FAC0 \x00 \"'\n", MaybeText: strings.Repeat("é", 1<<20), Sort: "心音", X: math.Copysign(0, -1), MaybeX: math.MaxFloat64,
				MaybeN32: new(int32(0)), MaybeN64: new(int64(0)), MaybeYes: new(true), At: 1<<51 - 1, MaybeAt: new(time.Duration(0)),
			},
			Cells: Cells{
				Floats: []float64{math.SmallestNonzeroFloat64}, Labels: []string{"", "ĀbsĒnt"},
				Vectors: [][]float32{{math.MaxFloat32, float32(math.Inf(1)), 0}}, Bytes: [][]uint8{{1, 2}},
			},
		},
	}
}

// write makes a file of the rows and returns its path.
func write[T Row](t testing.TB, path string, extra []Column, rows []Record[T]) string {
	t.Helper()
	w, err := Create[T](path, extra, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, r := range rows {
		if err := w.Append(r.Row, r.Cells); err != nil {
			t.Fatal(err)
		}
	}
	if w.Rows() != int64(len(rows)) {
		t.Fatalf("%d rows counted, %d appended", w.Rows(), len(rows))
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	return path
}

func readAll[T Row](t testing.TB, r *Reader[T]) []Record[T] {
	t.Helper()
	var rows []Record[T]
	for rec, err := range r.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		rec.Cells = rec.Cells.Clone()
		rows = append(rows, rec)
	}
	return rows
}

func TestRoundTrip(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "a.parquet"), everyExtra, everyRows())
	r, err := Open[every](path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(everyRows(), readAll(t, r), cmpopts.EquateNaNs()); diff != "" {
		t.Error(diff)
	}
}

// fixedNames returns the names of the columns that are fields of every.
func fixedNames() []string {
	var names []string
	for _, c := range fixedColumns(reflect.TypeFor[every]()) {
		names = append(names, c.Name)
	}
	return names
}

// plainValues returns the values of a record as text, fields before labels.
func plainValues(r *Record[every]) []string {
	float := func(x float64) string {
		if math.IsNaN(x) {
			return "null"
		}
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	maybe := func(s string) string {
		if s == "" {
			return "null"
		}
		return strconv.Quote(s)
	}
	seconds := func(d time.Duration) string { return float(float64(d) / 1e9) }
	row, cells := &r.Row, &r.Cells
	window, classes := "null", "null"
	if v := cells.Vectors[0]; v != nil {
		window = fmt.Sprintf("%v,%v,%v", v[0], v[1], v[2])
	}
	if v := cells.Bytes[0]; v != nil {
		classes = fmt.Sprintf("%v,%v", v[0], v[1])
	}
	at := "null"
	if row.MaybeAt != nil {
		at = seconds(*row.MaybeAt)
	}
	return []string{
		strconv.Quote(row.Text), maybe(row.MaybeText), strconv.Quote(row.Sort), maybe(row.MaybeSort), float(row.X), float(row.MaybeX),
		fmt.Sprint(row.N32), pointed(row.MaybeN32), fmt.Sprint(row.N), fmt.Sprint(row.N64), pointed(row.MaybeN64),
		fmt.Sprint(row.Yes), pointed(row.MaybeYes), seconds(row.At), at,
		maybe(cells.Labels[0]), float(cells.Floats[0]), window, maybe(cells.Labels[1]), classes,
	}
}

func pointed[E any](p *E) string {
	if p == nil {
		return "null"
	}
	return fmt.Sprint(*p)
}
