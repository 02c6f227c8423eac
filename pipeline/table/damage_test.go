package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"phonocycle/pipeline/table/pages"
)

// drain reads rows from the bytes of a file until its end, an error or most
// rows, and returns how many it got.
func drain[T Row](b []byte, most int) (rows int, err error) {
	d, err := newDecoder[T](bytes.NewReader(b), kinds{})
	if err != nil {
		return 0, err
	}
	for rows < most {
		n, err := d.load()
		if err == io.EOF {
			return rows, nil
		}
		if err != nil {
			return rows, err
		}
		for i := range n {
			if err := d.read(i); err != nil {
				return rows, err
			}
			rows++
		}
	}
	return rows, nil
}

// small is a file of all kinds of columns with short values.
func small(t testing.TB) []byte {
	t.Helper()
	rows := everyRows()
	rows[2].Row.MaybeText = "é"
	path := write(t, filepath.Join(t.TempDir(), "small.parquet"), everyExtra, append(rows, rows...))
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// foreign are files with the columns of every, but written by another library
// in other encodings, compressions and page versions.
func foreign(t testing.TB) map[string][]byte {
	t.Helper()
	files := make(map[string][]byte)
	for name, options := range map[string][]parquet.WriterOption{
		"plain v1":  {parquet.DataPageVersion(1), parquet.Compression(&parquet.Uncompressed)},
		"snappy v1": {parquet.DataPageVersion(1), parquet.Compression(&parquet.Snappy)},
		"snappy v2": {parquet.DataPageVersion(2), parquet.Compression(&parquet.Snappy)},
		"zstd v2":   {parquet.DataPageVersion(2), parquet.Compression(&parquet.Zstd)},
		"zstd v1":   {parquet.DataPageVersion(1), parquet.Compression(&parquet.Zstd)},
	} {
		var b bytes.Buffer
		w := parquet.NewGenericWriter[foreignRow](&b, options...)
		if _, err := w.Write(foreignRows()); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		files[name] = b.Bytes()
	}
	return files
}

func FuzzRead(f *testing.F) {
	f.Add(small(f))
	for _, b := range foreign(f) {
		f.Add(b)
	}
	for _, path := range []string{"testdata/duckdb-v1.parquet", "testdata/duckdb-v2.parquet"} {
		b, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		repairDigest(b)
		drain[every](b, 1<<16)
		drain[State](b, 1<<16)
	})
}

// Every cut of a file is an error, never a shorter table.
func TestCutFile(t *testing.T) {
	b := small(t)
	for n := range len(b) {
		if rows, err := drain[every](b[:n], 100); err == nil {
			t.Fatalf("first %d of %d bytes: read as a table of %d rows", n, len(b), rows)
		}
	}
}

// repairDigest gives a damaged file the digest that its bytes have, where it
// states one, so that the damage reaches the decoder.
func repairDigest(b []byte) {
	footer, size, err := pages.ReadFooter(bytes.NewReader(b))
	at := digestAt(footer, keyDigest)
	if err != nil || at < 0 {
		return
	}
	digits := b[int(size)-pages.TailLength-len(footer)+at:][:digestLength]
	copy(digits, noDigest)
	sum := sha256.Sum256(b)
	hex.Encode(digits, sum[:])
}

// A file with a few wrong bytes is read or refused, without a panic, a hang or
// a flood of memory, even where its digest fits.
func TestDamagedFile(t *testing.T) {
	files := foreign(t)
	files["own"] = small(t)
	names := []string{"own", "plain v1", "snappy v1", "snappy v2", "zstd v1", "zstd v2"}
	rng := rand.New(rand.NewPCG(1, 2))
	refused := 0
	for _, name := range names {
		whole := files[name]
		b := make([]byte, len(whole))
		for range 500 {
			copy(b, whole)
			for range 1 + rng.IntN(3) {
				b[rng.IntN(len(b))] = byte(rng.Uint32())
			}
			repairDigest(b)
			if _, err := drain[every](b, 1000); err != nil {
				refused++
			}
		}
	}
	if refused < 500 {
		t.Errorf("%d of 3000 damaged files refused: is anything checked?", refused)
	}
}

// Whoever claims much in few bytes must not get it.
func TestClaims(t *testing.T) {
	footer := func(body ...byte) []byte {
		b := append([]byte("PAR1"), body...)
		b = binary.LittleEndian.AppendUint32(b, uint32(len(body)))
		return append(b, "PAR1"...)
	}
	varint := func(v uint64) []byte { return binary.AppendUvarint(nil, v) }
	join := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	tests := []struct {
		name string
		file []byte
		want string
	}{
		{"empty", nil, "0 bytes are too few"},
		{"text", []byte("recording,start_s\n"), "not those of a Parquet file"},
		{"footer longer than the file", join([]byte("PAR1"), []byte{255, 255, 255, 3}, []byte("PAR1")), "the footer claims 67108863 bytes"},
		{"list", footer(join([]byte{0x49, 0xFC}, varint(1<<40))...), "the footer cannot be read"},
		{"schema", footer(join([]byte{0x29, 0xFC}, varint((1<<16)+1), make([]byte, 2*(1<<16)))...), "a schema of 65537 elements"},
		{"children", footer(0x29, 0x1C, 0x55, 0x80, 0x80, 0x80, 0x80, 0x08, 0, 0), "a group of 1073741824 columns in a schema of 1"},
		{"depth", footer(bytes.Repeat([]byte{0x1C}, 1<<20)...), "Depth limit exceeded"},
		{"string", footer(join([]byte{0x18}, varint(1<<62))...), "the footer cannot be read"},
		{"map", footer(join([]byte{0x1B}, varint(1<<31))...), "negative size"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := drain[every](test.file, 1)
			runtime.ReadMemStats(&after)
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v, want %q", err, test.want)
			}
			if taken := after.TotalAlloc - before.TotalAlloc; taken > 32<<20 {
				t.Errorf("%d bytes taken for a file of %d", taken, len(test.file))
			}
		})
	}
}
