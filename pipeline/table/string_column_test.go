package table

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
)

// names is a row of strings alone.
type names struct {
	Name  string `table:"name"`
	Maybe string `table:"maybe,null"`
	Sort  string `table:"sort,category"`
}

func (names) Table() Info { return Info{Name: "names", Version: 1} }

// stringsByArrow returns the file that Arrow makes of rows of strings, in some
// columns of which an empty one is missing.
func stringsByArrow(t *testing.T, f *Format[names], rows [][]string) []byte {
	t.Helper()
	return byArrow(t, f, len(rows), func(w file.ColumnChunkWriter, k, from, to int) error {
		var levels []int16
		values := make([]parquet.ByteArray, 0, to-from)
		for _, row := range rows[from:to] {
			switch {
			case !f.columns[k].nullable:
				values = append(values, []byte(row[k]))
			case row[k] != "":
				levels, values = append(levels, 1), append(values, []byte(row[k]))
			default:
				levels = append(levels, 0)
			}
		}
		_, err := w.(*file.ByteArrayColumnChunkWriter).WriteBatch(values, levels, nil)
		return err
	})
}

// Columns of strings are what Arrow makes of them, to the byte, however many
// different ones there are, however long they are and however many are missing.
func TestStringsAreThoseOfArrow(t *testing.T) {
	f, err := NewFormat[names]([]Column{{Name: "a", Kind: Category}, {Name: "b", Kind: Category}}, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{0, 1, 7, 8, 9, 16, 63, 504, 505, 1024, 5000, maxGroupRows + 1500} {
		for _, different := range []int{1, 2, 3, 4, 5, 17, 256, 257, 3000, 1 << 20} {
			for _, missing := range []float64{0, 0.3, 1} {
				rows := make([][]string, n)
				long := strings.Repeat("x", longestString-3+rng.IntN(6))
				for i := range rows {
					rows[i] = make([]string, len(f.columns))
					for k := range rows[i] {
						switch stays := rng.IntN(12) > 0; {
						case i > 0 && stays && k%2 == 0: // in runs
							rows[i][k] = rows[i-1][k]
						case rng.Float64() < missing: // or empty
						case k == 3 && rng.IntN(100) == 0:
							rows[i][k] = long
						default:
							rows[i][k] = fmt.Sprintf("%x", rng.IntN(different))
						}
					}
				}
				var b bytes.Buffer
				var e encoder[names]
				e.start(f, &b)
				for _, row := range rows {
					if err := e.append(names{row[0], row[1], row[2]}, Cells{Labels: row[3:]}); err != nil {
						t.Fatal(err)
					}
				}
				if err := e.finish(); err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(b.Bytes(), stringsByArrow(t, f, rows)) {
					t.Errorf("%d rows of %d strings, %g of them missing: the file is not that of Arrow", n, different, missing)
				}
			}
		}
	}
}

// A column whose dictionary would be too large is written without it, as by Arrow.
// In what order Arrow lists the encodings of pages then is left to chance.
func TestManyLongStringsAreThoseOfArrow(t *testing.T) {
	f, err := NewFormat[names](nil, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	const different = 1024
	limit := largestDictionary/different - 4 // with its length, such a string fills the dictionary
	for _, size := range []int{limit - 1, limit, limit + 20} {
		rows := make([][]string, different+100)
		for i := range rows {
			name := fmt.Sprintf("%0*d", size, min(i, different-1))
			rows[i] = []string{name, name, "one"}
		}
		var first []byte
		for range 5 {
			var b bytes.Buffer
			var e encoder[names]
			e.start(f, &b)
			for _, row := range rows {
				if err := e.append(names{row[0], row[1], row[2]}, Cells{}); err != nil {
					t.Fatal(err)
				}
			}
			if err := e.finish(); err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = b.Bytes()
			}
			if !bytes.Equal(b.Bytes(), first) {
				t.Fatalf("strings of %d bytes: two files of the same rows differ", size)
			}
		}
		tries := 0
		for !bytes.Equal(first, stringsByArrow(t, f, rows)) {
			if tries++; tries == 100 {
				t.Fatalf("strings of %d bytes: the file is none of those of Arrow", size)
			}
		}
	}
}
