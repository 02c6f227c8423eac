package audio

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// FuzzDecode feeds arbitrary bytes. Decode must neither panic nor hold more
// memory than the file can fill, and what it returns must be a usable clip.
func FuzzDecode(f *testing.F) {
	names, err := filepath.Glob(filepath.Join(fixtures, "*.wav"))
	if err != nil {
		f.Fatal(err)
	}
	if len(names) == 0 {
		f.Fatal("no fixtures")
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, 0)
		f.Add(b[:len(b)/2], 1)
	}
	pcm := fmtChunk(codePCM, 1, 4000, 16)
	two := int16Bytes(1, 2)
	for _, b := range [][]byte{
		wavFile(pcm, bareChunk("data", 0xFFFFFFFF, two)),
		wavFile(pcm, bareChunk("LIST", 0xFFFFFFFF, two), goodChunk("data", two)),
		wavFile(goodChunk("data", two), pcm),
		wavFile(bareChunk("LIST", 1, []byte{7}), pcm, bareChunk("data", 3, two)),
		wavFile(goodChunk("fmt ", fmtBody(codePCM, 1, 4000, 16, 0)), goodChunk("data", two)),
		wavFile(fmtChunk(codeFloat, 2, 4000, 64), goodChunk("data", float64Bytes(1, math.NaN(), 2, math.Inf(1)))),
		wavFile(extensibleChunk(codePCM, 3, 192000, 24, 20, subFormatTail), goodChunk("data", make([]byte, 20))),
		wavFile(fmtChunk(codePCM, 65535, 500, 8), goodChunk("data", make([]byte, 70000))),
	} {
		f.Add(b, 2)
	}
	f.Fuzz(func(t *testing.T, file []byte, channel int) {
		d := &Decoder{Channel: channel}
		c, err := d.Decode(bytes.NewReader(file))
		if n := cap(d.clip.Samples); n > len(file) {
			t.Errorf("memory for %d samples from %d bytes", n, len(file))
		}
		if n := cap(d.block); n > blockBytes {
			t.Errorf("block of %d bytes", n)
		}
		if (c == nil) == (err == nil) {
			t.Fatalf("clip %v and error %v", c, err)
		}
		if err != nil {
			return
		}
		if len(c.Samples) == 0 || c.Rate < MinRate || c.Rate > MaxRate || c.Channels < 1 || c.Encoding == "" || c.Duration() <= 0 {
			t.Errorf("clip of %d samples: %d Hz, %d channels, %q", len(c.Samples), c.Rate, c.Channels, c.Encoding)
		}
		for i, v := range c.Samples {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("sample %d is %v", i, v)
			}
		}
	})
}
