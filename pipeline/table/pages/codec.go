package pages

import (
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/klauspost/compress/zstd"
)

// The decoders of Snappy and Zstandard take the memory that a block states: a
// few hundred bytes can ask for gigabytes. A page states its size as well, and
// Arrow provides for it; so Arrow gets codecs that refuse a block of another size.
// The other codecs (gzip, Brotli) write into the memory of the page alone.
func init() {
	decoder, err := zstd.NewReader(nil, zstd.WithDecodeAllCapLimit(true))
	snappyCodec, err2 := compress.GetCodec(compress.Codecs.Snappy)
	zstdCodec, err3 := compress.GetCodec(compress.Codecs.Zstd)
	if err := errors.Join(err, err2, err3); err != nil {
		panic(err)
	}
	compress.RegisterCodec(compress.Codecs.Snappy, boundedSnappy{snappyCodec})
	compress.RegisterCodec(compress.Codecs.Zstd, boundedZstd{zstdCodec, decoder})
}

// A codec says by a panic that it cannot decode; see Protect.

type boundedSnappy struct{ compress.Codec }

func (c boundedSnappy) Decode(dst, src []byte) []byte {
	if len(src) == 0 {
		return dst[:0]
	}
	if size, used := binary.Uvarint(src); used <= 0 || size != uint64(len(dst)) { // the block begins with its size
		panic(fmt.Sprintf("a Snappy block of %d bytes in a page of %d", size, len(dst)))
	}
	return c.Codec.Decode(dst, src)
}

type boundedZstd struct {
	compress.Codec
	decoder *zstd.Decoder
}

func (c boundedZstd) Decode(dst, src []byte) []byte {
	out, err := c.decoder.DecodeAll(src, dst[:0:len(dst)])
	if err != nil || len(out) != len(dst) {
		panic(fmt.Sprintf("a Zstandard block of another size than the page of %d bytes (%v)", len(dst), err))
	}
	return out
}
