package table

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// The files in testdata were written by DuckDB 1.4.4 (@duckdb/node-api
// 1.4.4-r.3) from the states of testdata/readers/sample at the top of the
// repository, by way of
//
//	COPY (SELECT recording, state, start_s, end_s, 'threshold' AS remark … ORDER BY recording, start_s)
//	TO 'duckdb-v1.parquet' (FORMAT parquet, COMPRESSION zstd);
//	COPY (SELECT recording, state, start_s, end_s, row_number() over () AS index, 'x' || row_number() over () AS remark …)
//	TO 'duckdb-v2.parquet' (FORMAT parquet, PARQUET_VERSION 'V2', COMPRESSION zstd);
//
// The second holds integers as differences, strings as lengths and bytes, and
// floats split by bytes.
func TestReadDuckDB(t *testing.T) {
	const ms = time.Millisecond
	var want []State
	for i, id := range []string{"1001_AV", "1002_MV"} {
		cycle := time.Duration(800+100*i) * ms
		for at := time.Duration(0); at < 3*cycle; at += cycle {
			want = append(want, IntervalStates(id, "", []pcg.Interval{
				{Start: at, End: at + 120*ms, State: pcg.S1}, {Start: at + 120*ms, End: at + 300*ms, State: pcg.Systole},
				{Start: at + 300*ms, End: at + 400*ms, State: pcg.S2}, {Start: at + 400*ms, End: at + cycle, State: pcg.Diastole},
			})...)
		}
	}
	for version, remark := range map[string]func(i int) string{
		"v1": func(int) string { return "threshold" },
		"v2": func(i int) string { return fmt.Sprint("x", i+1) },
	} {
		t.Run(version, func(t *testing.T) {
			r, err := Open[State]("testdata/duckdb-" + version + ".parquet")
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff([]Column{{Name: "remark", Kind: Category}}, r.Columns()); diff != "" {
				t.Error(diff)
			}
			rows := readAll(t, r)
			if len(rows) != len(want) {
				t.Fatalf("%d rows, want %d", len(rows), len(want))
			}
			for i, got := range rows {
				row := want[i]
				if row.Index = 0; version == "v2" {
					row.Index = int32(i + 1)
				}
				if got.Row != row || got.Cells.Labels[0] != remark(i) {
					t.Errorf("row %d: %+v, want %+v", i, got, row)
				}
			}
		})
	}
}
