package table

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// cyclesOf returns a cycle row and values of so many features.
func cyclesOf(features int) ([]Column, func(i int) Record[Cycle]) {
	columns := make([]Column, features)
	for k := range columns {
		columns[k] = Column{Name: fmt.Sprintf("feature_%03d", k), Unit: "1", Doc: "a feature"}
	}
	rng := rand.New(rand.NewPCG(5, 6))
	values := make([]float64, features)
	return columns, func(i int) Record[Cycle] {
		for k := range values {
			if values[k] = rng.NormFloat64(); k == i%features {
				values[k] = math.NaN()
			}
		}
		at := time.Duration(i) * 800 * time.Millisecond
		return Record[Cycle]{
			Row: Cycle{
				Recording: fmt.Sprintf("%05d_AV", i/20), Person: fmt.Sprintf("%05d", i/80), Origin: Predicted, Index: int32(i % 20),
				Start: at, S1End: at + 122*time.Millisecond, S2Start: at + 310*time.Millisecond, S2End: at + 402*time.Millisecond, End: at + 800*time.Millisecond,
			},
			Values: DynamicValues{Floats: values},
		}
	}
}

func BenchmarkWriteStates(b *testing.B) {
	path := filepath.Join(b.TempDir(), "a.parquet")
	w, err := Create[State](path, nil, everyMeta)
	if err != nil {
		b.Fatal(err)
	}
	row := State{Recording: "9979_AV", Origin: Predicted, State: "S1"}
	b.ReportAllocs()
	for i := range b.N {
		row.Index = int32(i % 100)
		row.State = pcg.Cycle[i%4].String()
		row.Start = row.End
		row.End += 100 * time.Millisecond
		if row.End > time.Minute {
			row.End = 0
		}
		if err := w.Append(row, DynamicValues{}); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Commit(); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkWriteCycles(b *testing.B) {
	path := filepath.Join(b.TempDir(), "a.parquet")
	columns, row := cyclesOf(120)
	w, err := Create[Cycle](path, columns, everyMeta)
	if err != nil {
		b.Fatal(err)
	}
	r := row(1)
	b.ReportAllocs()
	for range b.N {
		if err := w.Append(r.Row, r.Values); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Commit(); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkReadCycles(b *testing.B) {
	path := filepath.Join(b.TempDir(), "a.parquet")
	columns, row := cyclesOf(120)
	w, err := Create[Cycle](path, columns, everyMeta)
	if err != nil {
		b.Fatal(err)
	}
	const n = 20000
	for i := range n {
		r := row(i)
		if err := w.Append(r.Row, r.Values); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Commit(); err != nil {
		b.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(info.Size())/n, "bytes/row")
	b.ReportAllocs()
	for b.Loop() {
		r, err := Open[Cycle](path)
		if err != nil {
			b.Fatal(err)
		}
		for _, err := range r.Rows() {
			if err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds(), "rows/s")
}

// BenchmarkWindows writes and reads windows of two seconds at 1 kHz with a state
// for each sample, as networks are trained on, and reports the most memory that
// was in use at once.
func BenchmarkWindows(b *testing.B) {
	columns := []Column{
		{Name: "window", Kind: FloatVector, Length: 2000, Doc: "samples"},
		{Name: "window_states", Kind: ByteVector, Length: 2000, Doc: "states"},
	}
	x, s := make([]float32, 2000), make([]uint8, 2000)
	rng := rand.New(rand.NewPCG(7, 8))
	for i := range x {
		x[i], s[i] = rng.Float32(), uint8(i/300%4)
	}
	cells := DynamicValues{Vectors: [][]float32{x}, Bytes: [][]uint8{s}}
	var peak uint64
	watch := func(i int) {
		if i%256 == 0 {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			peak = max(peak, m.HeapInuse)
		}
	}
	path := filepath.Join(b.TempDir(), "a.parquet")
	w, err := Create[Cycle](path, columns, everyMeta)
	if err != nil {
		b.Fatal(err)
	}
	for i := range b.N {
		if err := w.Append(Cycle{Index: int32(i)}, cells); err != nil {
			b.Fatal(err)
		}
		watch(i)
	}
	if err := w.Commit(); err != nil {
		b.Fatal(err)
	}
	written, writing := b.Elapsed(), peak
	peak = 0
	r, err := Open[Cycle](path)
	if err != nil {
		b.Fatal(err)
	}
	i := 0
	for _, err := range r.Rows() {
		if err != nil {
			b.Fatal(err)
		}
		watch(i)
		i++
	}
	b.ReportMetric(float64(i)/written.Seconds(), "written/s")
	b.ReportMetric(float64(i)/(b.Elapsed()-written).Seconds(), "read/s")
	b.ReportMetric(float64(writing)/(1<<20), "MiB-writing")
	b.ReportMetric(float64(peak)/(1<<20), "MiB-reading")
}
