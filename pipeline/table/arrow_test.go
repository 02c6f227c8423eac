package table

import (
	"bytes"
	"context"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/metadata"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/google/go-cmp/cmp"
)

// A reader built on Arrow gets categories as dictionaries, vectors as lists of
// fixed size, and unit and definition with each field.
func TestArrowReads(t *testing.T) {
	f, err := file.NewParquetReader(bytes.NewReader(small(t)))
	if err != nil {
		t.Fatal(err)
	}
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	content, err := r.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer content.Release()
	if content.NumRows() != 6 {
		t.Errorf("%d rows, want 6", content.NumRows())
	}
	tests := []struct{ name, typ, unit, doc string }{
		{"text", "utf8", "", "a string"},
		{"sort", "dictionary<values=utf8, indices=int32, ordered=false>", "", "a category"},
		{"label", "dictionary<values=utf8, indices=int32, ordered=false>", "", "a label"},
		{"maybe_x", "float64", "m", "a number or nothing"},
		{"n32", "int32", "", "an integer"},
		{"at_s", "float64", "s", "a time"},
		{"feature", "float64", "Hz", "a feature"},
		{"window", "fixed_size_list<item: float32, nullable>[3]", "1", "samples"},
		{"classes", "fixed_size_list<item: uint8, nullable>[2]", "", "state of each sample"},
	}
	for _, test := range tests {
		fields, ok := content.Schema().FieldsByName(test.name)
		if !ok {
			t.Errorf("no field %s", test.name)
			continue
		}
		if got := fields[0].Type.String(); got != test.typ {
			t.Errorf("%s is %s, want %s", test.name, got, test.typ)
		}
		unit, _ := fields[0].Metadata.GetValue("unit")
		doc, _ := fields[0].Metadata.GetValue("doc")
		if unit != test.unit || doc != test.doc {
			t.Errorf("%s: unit %q, definition %q", test.name, unit, doc)
		}
	}
	feature, _ := content.Schema().FieldsByName("feature")
	want := map[string]string{"unit": "Hz", "doc": "a feature", "source": "a paper", "range": "≥ 0", "null": "silence"}
	for key, value := range want {
		if got, _ := feature[0].Metadata.GetValue(key); got != value {
			t.Errorf("feature: %s is %q, want %q", key, got, value)
		}
	}
	checkArrowValues(t, content)
}

func checkArrowValues(t *testing.T, content arrow.Table) {
	t.Helper()
	text := func(name string) []string {
		column := content.Column(content.Schema().FieldIndices(name)[0])
		var values []string
		for _, chunk := range column.Data().Chunks() {
			for i := range chunk.Len() {
				values = append(values, chunk.ValueStr(i))
			}
		}
		return values
	}
	for name, want := range map[string][]string{
		"maybe_n32": {"2147483647", array.NullValueStr, "0"},
		"at_s":      {"0.74", "0", "2.251799813685247e+06"},
		"window":    {"[1,-2,0.5]", "[0,0,0]", ""},
		"feature":   {"150.25", array.NullValueStr, "5e-324"},
		"murmur":    {"Present", array.NullValueStr, "ĀbsĒnt"},
	} {
		got := text(name)
		if want[2] == "" { // an infinity, for which Arrow has no text
			want, got = want[:2], got[:2]
		} else {
			want = append(want, want...)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// Labels and ids are dictionary-encoded, features are not, and row groups carry
// the range of each column.
func TestEncodings(t *testing.T) {
	f, err := file.NewParquetReader(bytes.NewReader(small(t)))
	if err != nil {
		t.Fatal(err)
	}
	group := f.MetaData().RowGroup(0)
	for i := range group.NumColumns() {
		chunk, err := group.ColumnChunk(i)
		if err != nil {
			t.Fatal(err)
		}
		name := chunk.PathInSchema()[0]
		want := map[string]bool{"text": true, "sort": true, "label": true, "murmur": true, "n32": true, "feature": false, "x": false, "at_s": false}
		if dictionary, ok := want[name]; ok && dictionary != chunk.HasDictionaryPage() {
			t.Errorf("%s: dictionary %v, want %v", name, chunk.HasDictionaryPage(), dictionary)
		}
		if chunk.Compression().String() != "SNAPPY" {
			t.Errorf("%s is compressed by %v", name, chunk.Compression())
		}
		if name == "at_s" {
			stats, err := chunk.Statistics()
			if err != nil {
				t.Fatal(err)
			}
			if s := stats.(*metadata.Float64Statistics); s.Min() != 0 || s.Max() != Seconds(maxExact-1) {
				t.Errorf("at_s from %v to %v", s.Min(), s.Max())
			}
		}
	}
}
