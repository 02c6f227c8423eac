package table

import (
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
// The second holds floats split by bytes, which Arrow cannot read.
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
	r, err := Open[State]("testdata/duckdb-v1.parquet")
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
		if want[i].Index = 0; got.Row != want[i] || got.Values.Labels[0] != "threshold" {
			t.Errorf("row %d: %+v, want %+v", i, got, want[i])
		}
	}
	for _, err = range Read[State]("testdata/duckdb-v2.parquet") {
	}
	if err == nil || err.Error() != `read testdata/duckdb-v2.parquet: column "start_s" from row 0: has values in the encoding BYTE_STREAM_SPLIT, which cannot be read; write the table with plain or dictionary encoding` {
		t.Error(err)
	}
}
