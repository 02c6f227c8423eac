package table

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"phonocycle/pipeline/pcg"
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
	{Name: "feature", Unit: "Hz", Doc: "a feature", Source: "a paper", Range: "≥ 0", Null: "silence", Kind: Float},
	{Name: "window", Unit: "1", Doc: "samples", Kind: FloatVector, Length: 3},
	{Name: "murmur", Doc: "another label", Kind: Category},
	{Name: "classes", Doc: "state of each sample", Kind: ByteVector, Length: 2},
	{Name: "age", Doc: "a label that is a number", Kind: Category, Number: true},
}

var everyMeta = Metadata{
	Tool: "phonocycle 1.2.3", Config: "sha256:00ff", Warnings: []string{"made on a Friday"}, Table: "every", TableVersion: 3,
}

func everyRows() []Record[every] {
	return []Record[every]{
		{
			Row: every{
				Text: "2530_AV", MaybeText: "here", Sort: "S1", MaybeSort: "AV", X: 1.5, MaybeX: -2.25, N32: math.MinInt32,
				MaybeN32: new(int32(math.MaxInt32)), N: -7, N64: math.MinInt64, MaybeN64: new(int64(math.MaxInt64)),
				Yes: true, MaybeYes: new(false), At: 740 * time.Millisecond, MaybeAt: new(-time.Nanosecond),
			},
			Values: DynamicValues{Floats: []float64{150.25}, Labels: []string{"Aortic", "Present", "7.5"}, Vectors: [][]float32{{1, -2, 0.5}}, Bytes: [][]uint8{{0, 255}}},
		},
		{
			Row: every{Text: "", Sort: "", X: math.Inf(-1), MaybeX: math.NaN()},
			Values: DynamicValues{
				Floats: []float64{math.NaN()}, Labels: []string{"", "", ""}, Vectors: [][]float32{{0, 0, 0}}, Bytes: [][]uint8{{7, 0}},
			},
		},
		{
			Row: every{
				Text: "Herzgeräusch 心音 \U0001FAC0 \x00 \"'\n", MaybeText: strings.Repeat("é", 1<<20), Sort: "心音", X: math.Copysign(0, -1), MaybeX: math.MaxFloat64,
				MaybeN32: new(int32(0)), MaybeN64: new(int64(0)), MaybeYes: new(true), At: 1<<51 - 1, MaybeAt: new(time.Duration(0)),
			},
			Values: DynamicValues{
				Floats: []float64{math.SmallestNonzeroFloat64}, Labels: []string{"", "ĀbsĒnt", "-1e+30"},
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
		if err := w.Append(r.Row, r.Values); err != nil {
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
		rec.Values = rec.Values.Clone()
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

// Columns of a kind that is left out are not there, and the others are.
func TestOpenWithout(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "a.parquet"), everyExtra, everyRows())
	r, err := OpenWithout[every](Float, path)
	if err != nil {
		t.Fatal(err)
	}
	want := everyRows()
	for i := range want {
		want[i].Values.Floats = []float64{}
	}
	if diff := cmp.Diff(want, readAll(t, r), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
	if n := len(r.Columns()); n != len(everyExtra)-1 {
		t.Errorf("%d columns, want %d", n, len(everyExtra)-1)
	}
	i := 0
	for row, err := range Read[every](path) {
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want[i].Row, row, cmpopts.EquateNaNs()); diff != "" {
			t.Error(diff)
		}
		i++
	}
	if i != len(want) {
		t.Errorf("%d rows, want %d", i, len(want))
	}
}

// A table of no rows is a file with all its columns.
func TestEmptyTable(t *testing.T) {
	path := write[every](t, filepath.Join(t.TempDir(), "a.parquet"), everyExtra, nil)
	r, err := Open[every](path)
	if err != nil {
		t.Fatal(err)
	}
	if rows := readAll(t, r); len(rows) != 0 {
		t.Errorf("%d rows", len(rows))
	}
	if diff := cmp.Diff(everyExtra, r.Columns()); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(everyMeta, r.Metadata()); diff != "" {
		t.Error(diff)
	}
}

// Rows keep their order and values across row groups, pages and batches.
func TestManyRows(t *testing.T) {
	const n = maxGroupRows + 3000
	row := func(i int) Record[State] {
		start := pcg.FromSamples(int64(i), 1000)
		r := Record[State]{
			Row:    State{Recording: fmt.Sprintf("%06d_AV", i/200), Origin: Predicted, Index: int32(i % 200), State: pcg.Cycle[i%4].String(), Start: start, End: start + time.Millisecond},
			Values: DynamicValues{Floats: []float64{float64(i) / 3}, Labels: []string{fmt.Sprint("site ", i%5)}},
		}
		if i%7 == 0 {
			r.Values = DynamicValues{Floats: []float64{nan}, Labels: []string{""}}
		}
		return r
	}
	path := filepath.Join(t.TempDir(), "a.parquet")
	w, err := Create[State](path, []Column{{Name: "x"}, {Name: "label", Kind: Category}}, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		r := row(i)
		if err := w.Append(r.Row, r.Values); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	r, err := Open[State](path)
	if err != nil {
		t.Fatal(err)
	}
	i := 0
	for got, err := range r.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		want := row(i)
		same := want.Row == got.Row && want.Values.Labels[0] == got.Values.Labels[0] &&
			(want.Values.Floats[0] == got.Values.Floats[0] || math.IsNaN(want.Values.Floats[0]) && math.IsNaN(got.Values.Floats[0]))
		if !same {
			t.Fatalf("row %d: %+v, want %+v", i, got, want)
		}
		i++
	}
	if i != n {
		t.Errorf("%d rows, want %d", i, n)
	}
	for got := range r.Rows() { // a reader can be left early and used again
		if got.Row != row(0).Row {
			t.Errorf("first row on second reading: %+v", got)
		}
		break
	}
}

// Windows of samples pass through in the memory of a row group, however many
// there are.
func TestWindowsInFlatMemory(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(10)) // so that what is seen is what is needed
	const n, length, most = 5000, 2000, 40 << 20
	columns := []Column{{Name: "window", Kind: FloatVector, Length: length}, {Name: "states", Kind: ByteVector, Length: length}}
	x, s := make([]float32, length), make([]uint8, length)
	window := func(i int) DynamicValues {
		for k := range 8 {
			x[(i*31+k*7)%length] = float32(i*k) / 3
			s[(i*17+k*5)%length] = uint8(i + k)
		}
		return DynamicValues{Vectors: [][]float32{x}, Bytes: [][]uint8{s}}
	}
	var before runtime.MemStats
	runtime.ReadMemStats(&before)
	peak := func(i int) {
		if i%500 != 0 {
			return
		}
		var m runtime.MemStats
		if runtime.ReadMemStats(&m); m.HeapInuse > before.HeapInuse+most {
			t.Fatalf("row %d: %d MiB in use for a table of %d MiB", i, (m.HeapInuse-before.HeapInuse)>>20, n*length*5>>20)
		}
	}
	path := filepath.Join(t.TempDir(), "a.parquet")
	w, err := Create[Cycle](path, columns, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range n {
		if err := w.Append(Cycle{Index: int32(i)}, window(i)); err != nil {
			t.Fatal(err)
		}
		peak(i)
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	clear(x)
	clear(s)
	r, err := Open[Cycle](path)
	if err != nil {
		t.Fatal(err)
	}
	i := 0
	for got, err := range r.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		want := window(i)
		if got.Row.Index != int32(i) || !slices.Equal(want.Vectors[0], got.Values.Vectors[0]) || !slices.Equal(want.Bytes[0], got.Values.Bytes[0]) {
			t.Fatalf("window %d differs", i)
		}
		peak(i)
		i++
	}
	if i != n {
		t.Errorf("%d windows, want %d", i, n)
	}
}

// The same rows give the same bytes, whatever was written before.
func TestSameBytes(t *testing.T) {
	var first []byte
	for range 3 {
		b := small(t)
		if first == nil {
			first = b
		}
		if !bytes.Equal(first, b) {
			t.Fatal("the same rows gave other bytes")
		}
	}
	// The digest changes with the Parquet library, the compressor or the
	// layout of the tables, all of which are worth noticing; not with the
	// machine or the day.
	const want = "cca670421d9b3043248cb92298a27c6b811b7452b9540c2b5c08abdfc2485460"
	if got := fmt.Sprintf("%x", sha256.Sum256(first)); got != want {
		t.Errorf("SHA-256 %s, want %s", got, want)
	}
}

func TestSecondsAreExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	times := []time.Duration{0, 1, -1, maxExact - 1, 1 - maxExact, time.Second, 333333333, 740 * time.Millisecond}
	for range 200000 {
		times = append(times, time.Duration(rng.Int64N(int64(maxExact)>>rng.IntN(50))))
	}
	for _, d := range times {
		if got, err := Duration(Seconds(d)); got != d || err != nil {
			t.Fatalf("%d ns became %d ns (%v)", d, got, err)
		}
	}
	for _, s := range []float64{nan, math.Inf(1), math.Inf(-1), 1e10, -1e300} {
		if d, err := Duration(s); err == nil {
			t.Errorf("%v s became %v", s, d)
		}
	}
	if s := Seconds(740 * time.Millisecond); s != 0.74 {
		t.Errorf("740 ms are %v s", s)
	}
}

// Every column says what it is, and every quantity its unit.
func TestEveryColumnIsDefined(t *testing.T) {
	tables := map[Info]reflect.Type{
		Recording{}.Table(): reflect.TypeFor[Recording](), State{}.Table(): reflect.TypeFor[State](), Cycle{}.Table(): reflect.TypeFor[Cycle](),
		Match{}.Table(): reflect.TypeFor[Match](), Score{}.Table(): reflect.TypeFor[Score](),
	}
	if len(tables) != 5 {
		t.Fatalf("%d different tables, want 5", len(tables))
	}
	units := map[string]string{"_s": "s", "_hz": "Hz", "_ms": "ms", "_per_min": "1/min"}
	for info, typ := range tables {
		if info.Name == "" || info.Doc == "" || info.Version < 1 {
			t.Errorf("table %+v", info)
		}
		columns := fixedColumns(typ)
		if len(columns) != typ.NumField() {
			t.Errorf("%s: %d columns for %d fields", info.Name, len(columns), typ.NumField())
		}
		for _, c := range columns {
			if len(c.Doc) < 6 {
				t.Errorf("%s.%s: definition %q", info.Name, c.Name, c.Doc)
			}
			if (c.storage == storeFloat || c.storage == storeSeconds) && c.Unit == "" {
				t.Errorf("%s.%s has no unit", info.Name, c.Name)
			}
			if c.storage == storeSeconds && c.Unit != "s" {
				t.Errorf("%s.%s is a time in %q", info.Name, c.Name, c.Unit)
			}
			for suffix, unit := range units {
				if strings.HasSuffix(c.Name, suffix) && c.Unit != unit {
					t.Errorf("%s.%s has the unit %q", info.Name, c.Name, c.Unit)
				}
			}
		}
	}
}

func TestTagMistakes(t *testing.T) {
	tests := []struct {
		name string
		typ  reflect.Type
		want string
	}{
		{"null integer", reflect.TypeFor[struct {
			N int `table:"n,null"`
		}](), `option "null"`},
		{"category of numbers", reflect.TypeFor[struct {
			X float64 `table:"x,category"`
		}](), `option "category"`},
		{"unknown option", reflect.TypeFor[struct {
			X float64 `table:"x,large"`
		}](), `option "large"`},
		{"type without a column", reflect.TypeFor[struct {
			X complex128 `table:"x"`
		}](), "no column holds the type complex128"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			defer func() {
				if got := fmt.Sprint(recover()); !strings.Contains(got, test.want) {
					t.Errorf("panic %v, want %s", got, test.want)
				}
			}()
			fixedColumns(test.typ)
		})
	}
}

// So do rows whose dictionary is larger than the megabyte at which Arrow gives up
// by itself.
func TestSameBytesOfALargeDictionary(t *testing.T) {
	extra := everyRows()[1].Values
	var rows []Record[every]
	for i := range 4000 {
		rows = append(rows, Record[every]{Row: every{Text: fmt.Sprintf("%0400d", i)}, Values: extra})
	}
	var first []byte
	for range 8 {
		b, err := os.ReadFile(write(t, filepath.Join(t.TempDir(), "large.parquet"), everyExtra, rows))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b
		}
		if !bytes.Equal(first, b) {
			t.Fatal("the same rows gave other bytes")
		}
	}
}

func TestStates(t *testing.T) {
	ms := time.Millisecond
	intervals := []pcg.Interval{{Start: 0, End: 120 * ms, State: pcg.S1}, {Start: 120 * ms, End: 300 * ms, State: pcg.Systole}}
	rows := IntervalStates("9979_AV", Predicted, intervals)
	rows = append(rows, PointStates("9979_AV", Reference, []pcg.Point{{At: 61 * ms, Sound: pcg.S1}, {At: 330 * ms, Sound: pcg.S2}})...)
	want := []State{
		{"9979_AV", Predicted, 0, "S1", 0, 120 * ms}, {"9979_AV", Predicted, 1, "systole", 120 * ms, 300 * ms},
		{"9979_AV", Reference, 0, "S1", 61 * ms, 61 * ms}, {"9979_AV", Reference, 1, "S2", 330 * ms, 330 * ms},
	}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Error(diff)
	}
	for i, r := range rows {
		if r.IsPoint() != (i >= 2) {
			t.Errorf("row %d: IsPoint %v", i, r.IsPoint())
		}
		iv, err := r.Interval()
		if err != nil {
			t.Error(err)
		}
		if i < 2 && iv != intervals[i] {
			t.Errorf("row %d: %v, want %v", i, iv, intervals[i])
		}
	}
	bad := State{Recording: "9979_AV", Index: 4, State: "S3"}
	if _, err := bad.Interval(); err == nil || !strings.Contains(err.Error(), `recording 9979_AV: interval 4: unknown state "S3"`) {
		t.Error(err)
	}
	bad = State{Recording: "9979_AV", State: "S1", Start: 2 * ms, End: ms}
	if _, err := bad.Interval(); err == nil || !strings.Contains(err.Error(), "end 1ms before start 2ms") {
		t.Error(err)
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
	row, cells := &r.Row, &r.Values
	x, b := cells.Vectors[0], cells.Bytes[0]
	window, classes := fmt.Sprintf("%v,%v,%v", x[0], x[1], x[2]), fmt.Sprintf("%v,%v", b[0], b[1])
	at, age := "null", cells.Labels[2]
	if age == "" {
		age = "null"
	}
	if row.MaybeAt != nil {
		at = seconds(*row.MaybeAt)
	}
	return []string{
		strconv.Quote(row.Text), maybe(row.MaybeText), strconv.Quote(row.Sort), maybe(row.MaybeSort), float(row.X), float(row.MaybeX),
		fmt.Sprint(row.N32), pointed(row.MaybeN32), fmt.Sprint(row.N), fmt.Sprint(row.N64), pointed(row.MaybeN64),
		fmt.Sprint(row.Yes), pointed(row.MaybeYes), seconds(row.At), at,
		maybe(cells.Labels[0]), float(cells.Floats[0]), window, maybe(cells.Labels[1]), classes, age,
	}
}

func pointed[E any](p *E) string {
	if p == nil {
		return "null"
	}
	return fmt.Sprint(*p)
}

var nan = math.NaN()
