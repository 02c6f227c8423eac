package table

import (
	"bytes"
	"encoding/base64"
	"reflect"
	"slices"
	"sync"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/metadata"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// Format is what the files of one table have in common: their columns, and what
// they say of these and of their making. With a thousand columns, making it
// takes longer than writing a few rows, so that a run makes it once for all
// parts. It may be used by several goroutines at once.
type Format[T Row] struct {
	columns []column
	counts  [len(kindNames)]int // of dynamic columns by kind
	root    *schema.GroupNode
	props   *parquet.WriterProperties
	keys    metadata.KeyValueMetadata

	mu    sync.Mutex
	spare []*buffers // that no file uses
}

// NewFormat returns the format of files with the columns of T followed by extra.
func NewFormat[T Row](extra []Column, meta Metadata) (*Format[T], error) {
	dynamic, err := dynamicColumns(extra)
	if err != nil {
		return nil, err
	}
	f := &Format[T]{columns: append(fixedColumns(reflect.TypeFor[T]()), dynamic...)}
	if err := checkColumns(f.columns); err != nil {
		return nil, err
	}
	for _, c := range extra {
		f.counts[c.Kind]++
	}
	var row T
	arrows, err := arrowSchema(row.Table(), f.columns, meta)
	if err != nil {
		return nil, err
	}
	f.props = writerProperties(f.columns)
	parquets, err := pqarrow.ToParquet(arrows, f.props, pqarrow.DefaultWriterProps())
	if err != nil {
		return nil, err
	}
	f.root = parquets.Root()
	f.keys, err = keyValues(arrows)
	f.keys = slices.Clip(f.keys) // to which every file appends its own
	return f, err
}

// take returns buffers for a file, those of one that is finished if there are
// any. A sync.Pool would forget them before the next part.
func (f *Format[T]) take() *buffers {
	f.mu.Lock()
	defer f.mu.Unlock()
	n := len(f.spare)
	if n == 0 {
		return newBuffers(len(f.columns))
	}
	b := f.spare[n-1]
	f.spare = f.spare[:n-1]
	return b
}

// giveBack keeps buffers for the next file.
func (f *Format[T]) giveBack(b *buffers) {
	b.clear()
	b.digest.reset(nil)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.spare = append(f.spare, b)
}

// keyValues returns the metadata of a file: that of its schema, and the schema
// itself as a message of Arrow, which tells categories from strings and vectors
// from lists.
func keyValues(s *arrow.Schema) (metadata.KeyValueMetadata, error) {
	var message bytes.Buffer
	if err := ipc.NewWriter(&message, ipc.WithSchema(s)).Close(); err != nil {
		return nil, err
	}
	keys := metadata.NewKeyValueMetadata()
	for i, key := range s.Metadata().Keys() {
		if err := keys.Append(key, s.Metadata().Values()[i]); err != nil {
			return nil, err
		}
	}
	return keys, keys.Append("ARROW:schema", base64.StdEncoding.EncodeToString(message.Bytes()))
}

// writerProperties fixes everything that shapes the bytes of a file.
func writerProperties(columns []column) *parquet.WriterProperties {
	options := []parquet.WriterProperty{
		parquet.WithVersion(parquet.V2_LATEST),
		parquet.WithDataPageVersion(parquet.DataPageV1),
		parquet.WithRootRepetition(parquet.Repetitions.Required),
		parquet.WithCompression(compress.Codecs.Snappy),
		parquet.WithDataPageSize(1 << 18),
		parquet.WithMaxRowGroupLength(maxGroupRows),
		parquet.WithDictionaryDefault(false),
		// A dictionary that outgrows its limit is given up, and of a column that
		// has pages with and without one Arrow lists the encodings in random order.
		parquet.WithDictionaryPageSizeLimit(1 << 30),
	}
	for _, c := range columns {
		switch c.storage {
		case storeString, storeCategory, storeInt32, storeInt64:
			options = append(options, parquet.WithDictionaryFor(c.Name, true))
		case storeFloatVector, storeByteVector:
			options = append(options, parquet.WithStatsFor(c.Name+".list.element", false))
		}
	}
	return parquet.NewWriterProperties(options...)
}
