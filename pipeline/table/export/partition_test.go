package export

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"phonocycle/pipeline/table"
)

// Every row stands in the folder of its data set, as it was and in its order.
func TestPartition(t *testing.T) {
	root, out := t.TempDir(), t.TempDir()
	p := table.PartsOf[table.Cycle](root)
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	meta := table.Metadata{Tool: "test", Config: "c", Warnings: []string{"w"}}
	columns := []table.Column{{Name: "murmur", Kind: table.Category}, {Name: "f", Unit: "Hz", Null: "never", Kind: table.Float}, {Name: "v", Kind: table.ByteVector, Length: 2}}
	want := map[string][]table.Record[table.Cycle]{}
	for part, sets := range [][]string{{"a", "a", "b"}, {"b", "c"}} {
		w, err := table.Create[table.Cycle](p.Path(part), columns, meta)
		if err != nil {
			t.Fatal(err)
		}
		for i, set := range sets {
			record := table.Record[table.Cycle]{
				Row:    table.Cycle{Recording: fmt.Sprint(set, part, i), DataSet: set, Person: "1", Origin: table.Predicted},
				Values: table.DynamicValues{Labels: []string{set}, Floats: []float64{[]float64{1.5, math.NaN()}[i%2]}, Bytes: [][]uint8{{1, byte(i)}}},
			}
			want[set] = append(want[set], record)
			if err := w.Append(record.Row, record.Values); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Commit(); err != nil {
			t.Fatal(err)
		}
	}
	if name, err := Partition(context.Background(), p.Dir, out, false); err != nil || name != "cycles" {
		t.Fatal(name, err)
	}
	for set, rows := range want {
		r, err := table.OpenParts[table.Cycle](table.Parts{Dir: filepath.Join(out, "cycles", "data_set="+set)})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(columns, r.Columns()); diff != "" {
			t.Error(diff)
		}
		if diff := cmp.Diff(meta.Warnings, r.Metadata().Warnings); diff != "" || r.Metadata().Config != "c" {
			t.Errorf("%+v", r.Metadata())
		}
		var got []table.Record[table.Cycle]
		for record, err := range r.Rows() {
			if err != nil {
				t.Fatal(err)
			}
			record.Values = record.Values.Clone()
			got = append(got, record)
		}
		if diff := cmp.Diff(rows, got, cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s: %s", set, diff)
		}
	}
	if _, err := Partition(context.Background(), p.Dir, out, false); err == nil || !strings.Contains(err.Error(), "--overwrite") {
		t.Errorf("into a folder with parts: %v", err)
	}
	if _, err := Partition(context.Background(), root, out, false); err == nil {
		t.Error("a folder of tables was taken for a table")
	}
	ended, end := context.WithCancel(context.Background())
	end()
	if _, err := Partition(ended, p.Dir, out, true); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if left, err := filepath.Glob(filepath.Join(out, "*")); err != nil || len(left) != 1 {
		t.Errorf("an interrupted copy leaves %v", left)
	}
	// What a killed copy leaves is replaced without a word, a foreign file never.
	killed := filepath.Join(out, "cycles.partial", "data_set=z")
	if err := errors.Join(os.MkdirAll(killed, 0o755), os.WriteFile(filepath.Join(killed, "part-000000.parquet.X.partial"), nil, 0o644)); err != nil {
		t.Fatal(err)
	}
	if _, err := Partition(context.Background(), p.Dir, out, true); err != nil {
		t.Error(err)
	}
	mine := filepath.Join(out, "cycles", "data_set=a", "notes.txt")
	if err := os.WriteFile(mine, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Partition(context.Background(), p.Dir, out, true); err == nil || !strings.Contains(err.Error(), mine) {
		t.Errorf("over a foreign file: %v", err)
	}
	if _, err := Partition(context.Background(), p.Dir, root, true); err == nil || !strings.Contains(err.Error(), "table itself") {
		t.Errorf("over the table itself: %v", err)
	}
}
