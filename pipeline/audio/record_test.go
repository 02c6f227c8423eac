package audio

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"phonocycle/pipeline/audio/wfdb"
)

type inMemory struct{ *bytes.Reader }

func (inMemory) Close() error { return nil }

// decodeRecord decodes the first signal of a record with one signal file.
func decodeRecord(d *Decoder, header string, data []byte) (*Clip, error) {
	h, err := wfdb.ReadHeader(strings.NewReader(header))
	if err != nil {
		return nil, err
	}
	r, err := h.Open(0, func(string) (io.ReadSeekCloser, error) { return inMemory{bytes.NewReader(data)}, nil })
	if err != nil {
		return nil, err
	}
	defer r.Close()
	c, err := d.OpenSignal(r, len(h.Signals))
	if err == nil {
		err = d.ReadSamples()
	}
	return c, err
}

// TestRecordIsScaledToTheConverter: full scale is that of the converter around its
// zero, whatever gain and baseline say.
func TestRecordIsScaledToTheConverter(t *testing.T) {
	four := []byte{0x00, 0x02, 0x00, 0x04, 0x00, 0x00, 0x00, 0xFE} // 512, 1024, 0, -512
	for _, c := range []struct{ header, want string }{
		{"r 1 2000\nr.dat 16 1000(7)/Pa 11 512\n", "[0 0.5 -0.5 -1] 2000 Hz 11 bits 1 WFDB format 16 []"},                                                      // (d - 512)/1024
		{"r 2 4000\nr.dat 16 1000(7)/Pa\nx.dat 16\n", "[0.015625 0.03125 0 -0.015625] 4000 Hz 16 bits 2 WFDB format 16 []"},                                    // d/32768
		{"r 1 500\nr.dat 16 1 10\n", "[1 2 0 -1] 500 Hz 10 bits 1 WFDB format 16 [peak 2 above full scale 1; kept as it is]"},                                  // d/512
		{"r 1 500 5\nr.dat 16 1 16\n", "[0.015625 0.03125 0 -0.015625] 500 Hz 16 bits 1 WFDB format 16 [header claims 5 samples and r.dat has 4; read those]"}, // d/32768
		{"r 1 500 2\nr.dat 16 1 16 0 0 9\n", "[0.015625 0.03125] 500 Hz 16 bits 1 WFDB format 16 [checksum of r.dat is 9, and its samples give 1536: compare the file with its source]"},
	} {
		clip, err := decodeRecord(&Decoder{}, c.header, four)
		if err != nil {
			t.Errorf("%q: %v", c.header, err)
			continue
		}
		got := fmt.Sprintf("%v %d Hz %d bits %d %s %v", clip.Samples, clip.Rate, clip.BitsPerSample, clip.Channels, clip.Encoding, clip.Repairs)
		if got != c.want {
			t.Errorf("%q:\n%s, want\n%s", c.header, got, c.want)
		}
	}
}

func TestRecordErrors(t *testing.T) {
	for _, c := range []struct {
		header, want string
		err          error
	}{
		{"r 1 499\nr.dat 16\n", "499 Hz: want a whole number of 500 to 192000", ErrRate},
		{"r 1 1e30\nr.dat 16\n", "want a whole number", ErrRate},
		{"r 1 2000.5\nr.dat 16\n", "2000.5 Hz", ErrRate},
		{"r 1 500\nr.dat 16\n", "r.dat has no sample at number 2, 0.002 s: cut the recording before it, or fill the gap", ErrNotFinite},
	} {
		if _, err := decodeRecord(&Decoder{}, c.header, []byte{1, 0, 0, 0x80}); !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v", c.header, err)
		}
	}
	clip, err := decodeRecord(&Decoder{}, "r 1 500\nr.wav 16\n", []byte{1, 0, 0, 0x80})
	if err != nil || clip.Samples[1] != -1 {
		t.Errorf("the lowest code of a WAV file: %v, %v", clip, err)
	}
}

// TestRecordThenWAV: a decoder reads records and WAV files in any order, and into
// the same memory.
func TestRecordThenWAV(t *testing.T) {
	wav := wavFile(fmtChunk(codePCM, 1, 4000, 16), goodChunk("data", int16Bytes(1, 2, -32768)))
	var d Decoder
	for range 2 {
		if c, err := decodeRecord(&d, "r 1 4000\na.wav 16+44 1 16 0 0 0 0 PCG\n", wav); err != nil || fmt.Sprint(c.Samples) != "[3.0517578125e-05 6.103515625e-05 -1]" {
			t.Fatal(c, err)
		}
		if c, err := d.Decode(bytes.NewReader(wav)); err != nil || fmt.Sprint(c.Samples) != "[3.0517578125e-05 6.103515625e-05 -1]" || c.Encoding != "16-bit PCM" {
			t.Fatal(c, err)
		}
	}
	if n := cap(d.clip.Samples); n != 3 {
		t.Errorf("room for %d samples", n)
	}
	if d.clip.Samples[2] != -1 || math.Signbit(d.clip.Samples[0]) {
		t.Error(d.clip.Samples)
	}
}
