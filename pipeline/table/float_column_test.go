package table

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/apache/arrow/go/v17/parquet/file"
)

// numbers is a row of floats alone.
type numbers struct {
	X     float64 `table:"x"`
	Maybe float64 `table:"maybe,null"`
}

func (numbers) Table() Info { return Info{Name: "numbers", Version: 1} }

// byArrow returns the file that Arrow makes of so many rows, of which write writes
// rows [from, to) of column k.
func byArrow[T Row](t *testing.T, f *Format[T], rows int, write func(w file.ColumnChunkWriter, k, from, to int) error) []byte {
	t.Helper()
	var row T
	arrows, err := arrowSchema(row.Table(), f.columns, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	words, err := keyValues(arrows)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	w := file.NewParquetWriter(&b, f.leaves.Root(), file.WithWriterProps(f.props), file.WithWriteMetadata(words))
	for from := 0; from < rows; from += maxGroupRows {
		group := w.AppendRowGroup()
		for k := range f.columns {
			column, err := group.NextColumn()
			if err == nil {
				err = write(column, k, from, min(from+maxGroupRows, rows))
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := group.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// floatsByArrow returns the file that Arrow makes of rows in which each but the
// first number may be missing.
func floatsByArrow(t *testing.T, f *Format[numbers], rows [][]float64) []byte {
	t.Helper()
	return byArrow(t, f, len(rows), func(w file.ColumnChunkWriter, k, from, to int) error {
		var levels []int16
		values := make([]float64, 0, to-from)
		for _, row := range rows[from:to] {
			if present := !math.IsNaN(row[k]); k == 0 || present {
				levels, values = append(levels, 1), append(values, row[k])
			} else {
				levels = append(levels, 0)
			}
		}
		if k == 0 {
			levels = nil
		}
		_, err := w.(*file.Float64ColumnChunkWriter).WriteBatch(values, levels, nil)
		return err
	})
}

// Columns of floats are what Arrow makes of them, to the byte.
func TestFloatsAreThoseOfArrow(t *testing.T) {
	f, err := NewFormat[numbers]([]Column{{Name: "a"}, {Name: "b"}, {Name: "c"}}, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	special := []float64{0, math.Copysign(0, -1), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64}
	for _, n := range []int{0, 1, 7, 8, 9, 16, 63, 505, 1024, 5000, 40_000, maxGroupRows + 1500} {
		for _, missing := range []float64{0, 0.02, 0.5, 0.98, 1} {
			rows := make([][]float64, n)
			gone := make([]bool, len(f.columns))
			for i := range rows {
				rows[i] = make([]float64, len(f.columns))
				for k := range rows[i] {
					// Values are missing in runs, of one at least in column b.
					if rng.IntN(10) == 0 || k == 3 {
						gone[k] = rng.Float64() < missing
					}
					switch {
					case gone[k] && k > 0:
						rows[i][k] = math.NaN()
					case rng.IntN(20) == 0 || k == 4:
						rows[i][k] = special[rng.IntN(len(special))]
					default:
						rows[i][k] = rng.NormFloat64()
					}
				}
			}
			var b bytes.Buffer
			var e encoder[numbers]
			e.start(f, &b)
			for _, row := range rows {
				if err := e.append(numbers{row[0], row[1]}, Cells{Floats: row[2:]}); err != nil {
					t.Fatal(err)
				}
			}
			if err := e.finish(); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(b.Bytes(), floatsByArrow(t, f, rows)) {
				t.Errorf("%d rows, %g of the values missing: the file is not that of Arrow", n, missing)
			}
		}
	}
}
