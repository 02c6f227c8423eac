package pages

import (
	"bytes"
	"encoding/binary"
	"runtime"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// A page that states more than its bytes justify is refused before Arrow decodes
// it, which would wait without end or take memory for what is stated.
func TestPageClaims(t *testing.T) {
	node := func(t parquet.Type, r parquet.Repetition) *schema.Column {
		n, err := schema.NewPrimitiveNode("x", r, t, -1, -1)
		if err != nil {
			panic(err)
		}
		return schema.NewSchema(schema.MustGroup(schema.NewGroupNode("schema", parquet.Repetitions.Required, schema.FieldList{n}, -1))).Column(0)
	}
	text := parquet.Types.ByteArray
	required, optional := node(text, parquet.Repetitions.Required), node(text, parquet.Repetitions.Optional)
	e := parquet.Encodings
	data := func(n int32, encoding parquet.Encoding, b ...byte) file.Page {
		return file.NewDataPageV1(memory.NewBufferBytes(b), n, encoding, e.RLE, e.RLE, int32(len(b)))
	}
	tests := []struct {
		name  string
		descr *schema.Column
		page  file.Page
		want  string // "" for a good page
	}{
		{"good", optional, data(3, e.Plain, 2, 0, 0, 0, 6, 0), ""},
		{"levels beyond the page", optional, data(3, e.Plain, 9, 0, 0, 0, 6, 0), "ends too early"},
		{"no room for levels", optional, data(3, e.Plain, 2, 0), "ends too early"},
		{"a run of no levels", optional, data(3, e.Plain, 4, 0, 0, 0, 2, 0, 0, 0), "1 levels in a page of 3 values"},
		{"too few levels", optional, data(4, e.Plain, 2, 0, 0, 0, 6, 0), "3 levels in a page of 4 values"},
		{"a level above the highest", optional, data(3, e.Plain, 2, 0, 0, 0, 6, 2), "0 levels in a page of 3 values"},
		{"old levels", optional, file.NewDataPageV1(memory.NewBufferBytes(nil), 1, e.Plain, e.BitPacked, e.RLE, 0), "went out of use in 2013"},
		{"levels of version 2", optional, file.NewDataPageV2(memory.NewBufferBytes([]byte{2, 0}), 3, 3, 3, e.Plain, 2, 0, 2, false), "1 levels in a page of 3 values"},
		{"levels of version 2 beyond the page", optional, file.NewDataPageV2(memory.NewBufferBytes([]byte{6, 0}), 3, 3, 3, e.Plain, 9, 0, 2, false), "ends too early"},
		{"indices", required, data(4, e.RLEDict, 2, 8, 2), ""},
		{"wide indices", required, data(4, e.RLEDict, 32, 8, 255, 255, 255, 127), "indices of 32 bits into a dictionary of 3 values"},
		{"index beyond the dictionary", required, data(4, e.RLEDict, 2, 8, 200), "number 200 where all are below 3"},
		{"dictionary", required, file.NewDictionaryPage(memory.NewBufferBytes(make([]byte, 12)), 4, e.Plain), "a dictionary of 4 values in 12 bytes"},
		{"delta", required, data(3, e.DeltaLengthByteArray, 0x80, 1, 4, 3, 0), ""},
		{"delta, cut short", required, data(3, e.DeltaLengthByteArray, 0x80, 1), "ends too early"},
		{"delta of too many", required, data(3, e.DeltaLengthByteArray, 0x80, 1, 4, 4, 0), "delta encoding of 4 values"},
		{"delta of none", required, data(3, e.DeltaLengthByteArray, 0x80, 1, 4, 0, 0), "delta encoding of 0 values"},
		{"delta in large blocks", required, data(3, e.DeltaLengthByteArray, 0x80, 0x80, 0x80, 1, 4, 3, 0), "blocks of 2097152"},
		{"delta without miniblocks", required, data(3, e.DeltaLengthByteArray, 0x80, 1, 0, 3, 0), "0 miniblocks"},
		{"delta in odd blocks", required, data(3, e.DeltaLengthByteArray, 100, 4, 3, 0), "blocks of 100 and 4 miniblocks"},
		{"other encoding", required, data(3, e.DeltaByteArray), "write the table with plain or dictionary encoding"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p := Reader{descr: test.descr, entries: 3}
			err := p.check(test.page)
			if test.want == "" && err != nil || test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)) {
				t.Errorf("%v, want %q", err, test.want)
			}
		})
	}
}

// A page header that states more bytes than there are, or than a page may have,
// is refused before memory is taken for it.
func TestPageHeaderClaims(t *testing.T) {
	header := func(uncompressed, compressed int32) []byte {
		number := func(v int32) []byte { return binary.AppendVarint([]byte{0x15}, int64(v)) }
		return bytes.Join([][]byte{number(0), number(uncompressed), number(compressed), {0}}, nil)
	}
	for _, test := range []struct {
		name string
		b    []byte
		want string
	}{
		{"good", append(header(9, 4), 1, 2, 3, 4), ""},
		{"longer than the chunk", append(header(9, 5), 1, 2, 3, 4), "a page claims 5 bytes, 9 when decompressed, where 4 are left"},
		{"negative", append(header(9, -1), 1, 2, 3, 4), "a page claims -1 bytes"},
		{"large", append(header(maxPage+1, 4), 1, 2, 3, 4), "268435457 when decompressed"},
		{"cut short", header(9, 4)[:3], "a page header cannot be read"},
	} {
		t.Run(test.name, func(t *testing.T) {
			var c chunkBytes
			c.reset(bytes.NewReader(test.b), int64(len(test.b)))
			_, err := c.Peek(1 << 14)
			if test.want == "" && err != nil || test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)) {
				t.Errorf("%v, want %q", err, test.want)
			}
		})
	}
}

// A compressed block of another size than its page is refused, and takes no
// memory beyond that of the page.
func TestCompressedClaims(t *testing.T) {
	content := make([]byte, 36<<20)
	for _, kind := range []compress.Compression{compress.Codecs.Snappy, compress.Codecs.Zstd, compress.Codecs.Gzip, compress.Codecs.Brotli} {
		t.Run(kind.String(), func(t *testing.T) {
			codec, err := compress.GetCodec(kind)
			if err != nil {
				t.Fatal(err)
			}
			decode := func(dst, src []byte) (out []byte, err error) {
				err = Protect(func() error { out = codec.Decode(dst, src); return nil })
				return out, err
			}
			for _, size := range []int{1, 100, 1 << 16} {
				block := codec.Encode(make([]byte, codec.CompressBound(int64(size))), content[:size])
				if out, err := decode(make([]byte, size), block); err != nil || len(out) != size {
					t.Errorf("%d of %d bytes, %v", len(out), size, err)
				}
				if out, err := decode(make([]byte, size+1), block); err == nil && len(out) == size+1 {
					t.Errorf("a page of %d bytes from a block of %d", size+1, size)
				}
			}
			bomb := codec.Encode(make([]byte, codec.CompressBound(int64(len(content)))), content)
			if out, err := decode(make([]byte, 100), bomb); len(out) > 100 {
				t.Errorf("%d of 100 bytes, %v", len(out), err)
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, _ = decode(make([]byte, 100), bomb)
			runtime.ReadMemStats(&after)
			if taken := after.TotalAlloc - before.TotalAlloc; taken > 32<<20 {
				t.Errorf("%d bytes taken for a page of 100", taken)
			}
		})
	}
}

func TestHybridRuns(t *testing.T) {
	tests := []struct {
		name     string
		b        []byte
		width    int
		n, limit int64
		want     int64 // -1 for an error
	}{
		{"repeated", []byte{6, 1}, 1, 3, 2, 3},
		{"repeated, wide", []byte{4, 0x34, 0x12}, 13, 2, 0x1235, 2},
		{"repeated, too large", []byte{4, 0x34, 0x12}, 13, 2, 0x1234, -1},
		{"repeated, of no width", []byte{8}, 0, 4, 1, 4},
		{"repeated beyond the end", []byte{200, 1, 5}, 3, 7, 8, 100},
		// The numbers 0 to 7 in three bits: the example of the format's specification.
		{"packed", []byte{3, 0b10001000, 0b11000110, 0b11111010}, 3, 8, 8, 8},
		{"packed, then repeated", []byte{3, 0b00000101, 4, 1}, 1, 10, 2, 10},
		{"none", nil, 1, 0, 2, 0},
		{"too few", []byte{4, 1}, 1, 3, 2, 2},
		{"packed cut short", []byte{3, 1}, 3, 8, 8, 0},
		{"repeated cut short", []byte{4, 1}, 9, 2, 512, 0},
		{"a run of none", []byte{0, 1}, 1, 1, 2, 0},
		{"wide", []byte{2, 1, 1, 1, 1, 1}, 33, 1, 1 << 33, 1},
		{"too long a run", []byte{0xFE, 0xFF, 0xFF, 0xFF, 0xFF, 1, 1}, 1, 1, 2, 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := hybridRuns(test.b, test.width, test.n, test.limit)
			if err != nil {
				got = -1
			}
			if got != test.want {
				t.Errorf("%d (%v), want %d", got, err, test.want)
			}
		})
	}
}
