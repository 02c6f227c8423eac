package audio

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// fixtures is where the check values of this package lie; its make.sh and
// resample.py say how they were made.
const fixtures = "../../testdata/audio"

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(fixtures, name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// wavFile puts a RIFF header before chunks.
func wavFile(chunks ...[]byte) []byte {
	body := bytes.Join(chunks, nil)
	b := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(4+len(body)))
	return append(append(b, "WAVE"...), body...)
}

// bareChunk returns a chunk that claims the given size and has the given body,
// without a pad byte.
func bareChunk(id string, size uint32, body []byte) []byte {
	return append(binary.LittleEndian.AppendUint32([]byte(id), size), body...)
}

// goodChunk returns a chunk as it should be.
func goodChunk(id string, body []byte) []byte {
	b := bareChunk(id, uint32(len(body)), body)
	if len(body)%2 == 1 {
		b = append(b, 0)
	}
	return b
}

// fmtBody returns the basic fields of a fmt chunk.
func fmtBody(code uint16, channels int, rate uint32, bits, frame int) []byte {
	le := binary.LittleEndian
	b := le.AppendUint16(nil, code)
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, rate*uint32(frame))
	b = le.AppendUint16(b, uint16(frame))
	return le.AppendUint16(b, uint16(bits))
}

// fmtChunk returns a fmt chunk whose frame size follows from the rest.
func fmtChunk(code uint16, channels int, rate uint32, bits int) []byte {
	return goodChunk("fmt ", fmtBody(code, channels, rate, bits, channels*((bits+7)/8)))
}

// extensibleChunk returns a fmt chunk of the extensible format.
func extensibleChunk(code uint16, channels int, rate uint32, bits, valid int, tail []byte) []byte {
	b := fmtBody(codeExtensible, channels, rate, bits, channels*((bits+7)/8))
	le := binary.LittleEndian
	b = le.AppendUint16(b, 22)
	b = le.AppendUint16(b, uint16(valid))
	b = le.AppendUint32(b, 0)
	b = le.AppendUint16(b, code)
	return goodChunk("fmt ", append(b, tail...))
}

func int16Bytes(v ...int16) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint16(b, uint16(x))
	}
	return b
}

func float32Bytes(v ...float32) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return b
}

func float64Bytes(v ...float64) []byte {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	return b
}
