package audio

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"testing"

	goaudio "github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// TestCasesOfGoAudio reads files by the decoder of go-audio/wav and by this
// package. Where both read a file, their samples are compared bit by bit. DEVELOPERS.md
// gives the outcomes as the reason for a decoder of our own.
func TestCasesOfGoAudio(t *testing.T) {
	pcm := fmtChunk(codePCM, 1, 4000, 16)
	data := goodChunk("data", int16Bytes(16384, -16384))
	eight := fmtChunk(codePCM, 1, 4000, 8)
	int20 := []byte{0, 0x10, 0, 0, 0, 0, 0, 0x80}
	for _, c := range []struct {
		name    string
		file    []byte
		library string
	}{
		{"PCM 8 bit, even number of bytes", wavFile(eight, goodChunk("data", []byte{0, 127, 128, 255})), "same samples"},
		{"PCM 8 bit, odd number of bytes", wavFile(eight, goodChunk("data", []byte{0, 127, 255})), "4 values, the file has 3"},
		{"PCM 16 bit", fixture(t, "int16.wav"), "same samples"},
		{"PCM 16 bit, two channels", fixture(t, "int16_2ch.wav"), "same samples"},
		{"PCM 24 bit", fixture(t, "int24.wav"), "402 values, the file has 401"},
		{"PCM 24 bit, extensible", fixture(t, "int24_extensible.wav"), "402 values, the file has 401"},
		{"PCM 32 bit", fixture(t, "int32.wav"), "same samples"},
		{"PCM 32 bit, extensible", fixture(t, "int32_extensible.wav"), "same samples"},
		{"PCM 12 bit in 16", wavFile(fmtChunk(codePCM, 1, 1000, 12), goodChunk("data", int16Bytes(-32768, 16))), "error: could not get sample decode func unhandled byte depth:12"},
		{"PCM 20 bit in 32, extensible", wavFile(extensibleChunk(codePCM, 1, 1000, 32, 20, subFormatTail), goodChunk("data", int20)), "same samples"},
		{"float 32 bit", fixture(t, "float32.wav"), "other values"},
		{"float 64 bit", fixture(t, "float64.wav"), "error: could not get sample decode func unhandled byte depth:64"},
		{"A-law", fixture(t, "alaw.wav"), "400 values without an error"},
		{"µ-law", fixture(t, "mulaw.wav"), "400 values without an error"},
		{"IMA ADPCM", fixture(t, "imaadpcm.wav"), "error: could not get sample decode func unhandled byte depth:4"},
		{"unknown chunk of even size first", wavFile(goodChunk("JUNK", []byte{1, 2}), pcm, data), "same samples"},
		{"unknown chunk of odd size between", wavFile(pcm, goodChunk("abcd", []byte{1}), data), "same samples"},
		{"odd chunk without its pad byte", wavFile(pcm, bareChunk("abcd", 1, []byte{7}), data), "error: error reading chunk header - unexpected EOF"},
		{"LIST between", wavFile(pcm, goodChunk("LIST", []byte("INFOICMT\x04\x00\x00\x00even")), data), "same samples"},
		{"data before fmt", wavFile(data, pcm), "same samples"},
		{"data longer than the file", wavFile(pcm, bareChunk("data", 400, int16Bytes(16384, -16384))), "same samples"},
		{"data of length 0xFFFFFFFF", wavFile(pcm, bareChunk("data", 0xFFFFFFFF, int16Bytes(16384, -16384))), "0 values, the file has 2"},
		{"data ends inside a sample", wavFile(pcm, bareChunk("data", 400, append(int16Bytes(16384, -16384), 9))), "3 values, the file has 2"},
		{"data of length 0, samples behind it", wavFile(pcm, bareChunk("data", 0, int16Bytes(1, 2))), "0 values without an error"},
		{"data ends inside a frame of two channels", wavFile(fmtChunk(codePCM, 2, 4000, 16), goodChunk("data", int16Bytes(1, 2, 3))), "3 values, the file has 2"},
		{"no data chunk", wavFile(pcm), "error: error reading chunk header - EOF"},
		{"fmt chunk cut off", wavFile(bareChunk("fmt ", 16, pcm[8:20])), "error: error reading chunk header - EOF"},
		{"no channels", wavFile(fmtChunk(codePCM, 0, 4000, 16), data), "error: failed to read header - data - format not supported"},
		{"rate of 4 GHz", wavFile(fmtChunk(codePCM, 1, 0xFFFFFFFF, 16), data), "2 values without an error"},
	} {
		ours, theirs := "reads", ""
		clip, err := new(Decoder).Decode(bytes.NewReader(c.file))
		switch {
		case err != nil:
			ours = "error: " + errorKind(err)
		case clip.Repairs != nil:
			ours = "reads, with a note"
		}
		theirs = byLibrary(c.file, clip)
		t.Logf("| %s | %s | %s |", c.name, ours, theirs)
		if theirs != c.library {
			t.Errorf("%s: %q, want %q", c.name, theirs, c.library)
		}
	}
}

// errorKind returns the text of the error of this package that err wraps.
func errorKind(err error) string {
	for _, kind := range []error{ErrNotWAV, ErrNoFormat, ErrFormat, ErrEncoding, ErrRate, ErrChannel, ErrNoSamples, ErrNotFinite} {
		if errors.Is(err, kind) {
			return kind.Error()
		}
	}
	return err.Error()
}

// byLibrary says how the decoder of go-audio/wav reads the file in comparison to
// clip, which is nil if this package refuses it.
func byLibrary(file []byte, clip *Clip) (outcome string) {
	defer func() {
		if r := recover(); r != nil {
			outcome = fmt.Sprint("panic: ", r)
		}
	}()
	d := wav.NewDecoder(bytes.NewReader(file))
	buf, err := d.FullPCMBuffer()
	if err != nil {
		return "error: " + err.Error()
	}
	if buf == nil {
		return "neither samples nor an error"
	}
	if clip == nil {
		return fmt.Sprintf("%d values without an error", len(buf.Data))
	}
	channels := max(1, int(d.NumChans))
	if len(buf.Data) != channels*len(clip.Samples) {
		return fmt.Sprintf("%d values, the file has %d", len(buf.Data), channels*len(clip.Samples))
	}
	for i, want := range clip.Samples {
		sum := 0.0
		for _, v := range buf.Data[i*channels : (i+1)*channels] {
			if d.BitDepth == 8 {
				v -= 128
			}
			sum += math.Ldexp(float64(v), 1-int(d.BitDepth))
		}
		if sum/float64(channels) != want {
			return "other values"
		}
	}
	return "same samples"
}

// BenchmarkGoAudio reads what BenchmarkDecode does, in blocks as large as its own.
func BenchmarkGoAudio(b *testing.B) {
	data := make([]byte, clipSeconds*4000*2)
	file := wavFile(fmtChunk(codePCM, 1, 4000, 16), goodChunk("data", data))
	buf := &goaudio.IntBuffer{Data: make([]int, blockBytes/2)}
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		d := wav.NewDecoder(bytes.NewReader(file))
		for n := -1; n != 0; {
			var err error
			if n, err = d.PCMBuffer(buf); err != nil {
				b.Fatal(err)
			}
		}
	}
	reportPerSecond(b)
}
