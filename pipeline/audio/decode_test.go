package audio

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestFixtures compares files made by sox with the tone they hold. A step is
// half the distance of PCM values, since sox rounds to the nearest; sox itself
// computes in 32-bit integers and does not round but truncate, twice.
func TestFixtures(t *testing.T) {
	const sox = 0x1p-30
	tests := []struct {
		file     string
		rate     int
		frames   int
		bits     int
		encoding string
		tones    []float64 // Hz, one a channel
		within   float64
	}{
		{"uint8.wav", 8000, 401, 8, "8-bit PCM", []float64{200}, 0x1p-8 + sox},
		{"int16.wav", 8000, 400, 16, "16-bit PCM", []float64{200}, 0x1p-16 + sox},
		{"int24.wav", 8000, 401, 24, "24-bit PCM", []float64{200}, 0x1p-24 + sox},
		{"int24_extensible.wav", 8000, 401, 24, "24-bit PCM", []float64{200}, 0x1p-24 + sox},
		{"int32.wav", 8000, 400, 32, "32-bit PCM", []float64{200}, sox},
		{"int32_extensible.wav", 8000, 400, 32, "32-bit PCM", []float64{200}, sox},
		{"float32.wav", 8000, 400, 32, "32-bit float", []float64{200}, 0x1p-25 + sox},
		{"float64.wav", 8000, 400, 64, "64-bit float", []float64{200}, sox},
		{"int16_2ch.wav", 8000, 200, 16, "16-bit PCM", []float64{200, 300}, 0x1p-16 + sox},
		{"uint8_3ch_extensible.wav", 8000, 201, 8, "8-bit PCM", []float64{200, 300, 400}, 0x1p-8 + sox},
		{"float32_6ch.wav", 8000, 200, 32, "32-bit float", []float64{200, 300, 400, 500, 600, 700}, 0x1p-25 + sox},
		{"rate500.wav", 500, 400, 16, "16-bit PCM", []float64{12.5}, 0x1p-16 + sox},
		{"rate192000.wav", 192000, 400, 16, "16-bit PCM", []float64{4800}, 0x1p-16 + sox},
	}
	for _, tt := range tests {
		t.Run(tt.file, func(t *testing.T) {
			tone := func(channel, frame int) float64 {
				return 0.5 * math.Sin(2*math.Pi*tt.tones[channel-1]*float64(frame)/float64(tt.rate))
			}
			for channel := range len(tt.tones) + 1 {
				d := &Decoder{Channel: channel}
				c, err := d.DecodeFile(filepath.Join(fixtures, tt.file))
				if err != nil {
					t.Fatal(err)
				}
				got, want := *c, Clip{Frames: tt.frames, Rate: tt.rate, Channels: len(tt.tones), BitsPerSample: tt.bits, Encoding: tt.encoding}
				got.Samples = nil
				if diff := cmp.Diff(want, got); diff != "" {
					t.Errorf("clip (-want +got):\n%s", diff)
				}
				if len(c.Samples) != tt.frames {
					t.Fatalf("%d samples, want %d", len(c.Samples), tt.frames)
				}
				for n, x := range c.Samples {
					want := 0.0
					if channel > 0 {
						want = tone(channel, n)
					} else {
						for ch := range tt.tones {
							want += tone(ch+1, n) / float64(len(tt.tones))
						}
					}
					if e := math.Abs(x - want); e > tt.within {
						t.Fatalf("channel %d, frame %d: %v, want %v: off by %.3g, allowed %.3g", channel, n, x, want, e, tt.within)
					}
				}
			}
		})
	}
}

// TestScale checks the ends of the range of each encoding against the formulas
// of the package comment.
func TestScale(t *testing.T) {
	tests := []struct {
		name string
		fmt  []byte
		data []byte
		want []float64
	}{
		{"8 bit", fmtChunk(codePCM, 1, 1000, 8), []byte{0, 127, 128, 129, 255}, []float64{-1, -0x1p-7, 0, 0x1p-7, 1 - 0x1p-7}},
		{"16 bit", fmtChunk(codePCM, 1, 1000, 16), int16Bytes(-32768, -1, 0, 1, 32767), []float64{-1, -0x1p-15, 0, 0x1p-15, 1 - 0x1p-15}},
		{"24 bit", fmtChunk(codePCM, 1, 1000, 24),
			[]byte{0, 0, 0x80, 0xFF, 0xFF, 0xFF, 0, 0, 0, 1, 0, 0, 0xFF, 0xFF, 0x7F}, []float64{-1, -0x1p-23, 0, 0x1p-23, 1 - 0x1p-23}},
		{"32 bit", fmtChunk(codePCM, 1, 1000, 32),
			[]byte{0, 0, 0, 0x80, 0xFF, 0xFF, 0xFF, 0xFF, 0, 0, 0, 0, 1, 0, 0, 0, 0xFF, 0xFF, 0xFF, 0x7F}, []float64{-1, -0x1p-31, 0, 0x1p-31, 1 - 0x1p-31}},
		{"12 bit in 16", fmtChunk(codePCM, 1, 1000, 12), int16Bytes(-32768, 16, 32752), []float64{-1, 0x1p-11, 1 - 0x1p-11}},
		{"20 bit in 32, extensible", extensibleChunk(codePCM, 1, 1000, 32, 20, subFormatTail), []byte{0, 0x10, 0, 0, 0, 0, 0, 0x80}, []float64{0x1p-19, -1}},
		{"float 32", fmtChunk(codeFloat, 1, 1000, 32), float32Bytes(-1, 0.1, 1), []float64{-1, float64(float32(0.1)), 1}},
		{"float 64", fmtChunk(codeFloat, 1, 1000, 64), float64Bytes(-1, 0.1, 1), []float64{-1, 0.1, 1}},
		{"float 32, extensible", extensibleChunk(codeFloat, 2, 1000, 32, 32, subFormatTail), float32Bytes(0.5, 0.25, -1, 0), []float64{0.375, -0.5}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, err := new(Decoder).Decode(bytes.NewReader(wavFile(tt.fmt, goodChunk("data", tt.data))))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, c.Samples); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
			if c.Repairs != nil {
				t.Errorf("repairs %q of a sound file", c.Repairs)
			}
		})
	}
}

func TestBitsPerSample(t *testing.T) {
	for _, tt := range []struct {
		fmt  []byte
		want int
	}{
		{fmtChunk(codePCM, 1, 1000, 12), 12},
		{extensibleChunk(codePCM, 1, 1000, 32, 20, subFormatTail), 20},
		{extensibleChunk(codePCM, 1, 1000, 32, 0, subFormatTail), 32},
		{extensibleChunk(codePCM, 1, 1000, 32, 77, subFormatTail), 32},
	} {
		c, err := new(Decoder).Decode(bytes.NewReader(wavFile(tt.fmt, goodChunk("data", make([]byte, 8)))))
		if err != nil {
			t.Fatal(err)
		}
		if c.BitsPerSample != tt.want {
			t.Errorf("%d bits, want %d", c.BitsPerSample, tt.want)
		}
	}
}

// TestContainer reads the same two or three samples out of containers that are
// unusual or damaged.
func TestContainer(t *testing.T) {
	pcm := fmtChunk(codePCM, 1, 4000, 16)
	data := goodChunk("data", int16Bytes(16384, -16384))
	list := goodChunk("LIST", []byte("INFOICMT\x03\x00\x00\x00odd"))
	two := []float64{0.5, -0.5}
	tests := []struct {
		name    string
		file    []byte
		want    []float64
		repairs []string
	}{
		{"plain", wavFile(pcm, data), two, nil},
		{"LIST first", wavFile(list, pcm, data), two, nil},
		{"LIST before data", wavFile(pcm, list, data), two, nil},
		{"LIST after data", wavFile(pcm, data, list), two, nil},
		{"unknown odd chunks", wavFile(goodChunk("abcd", []byte{1}), pcm, goodChunk("Xyz ", []byte{1, 2, 3}), data), two, nil},
		{"empty chunk", wavFile(pcm, goodChunk("JUNK", nil), data), two, nil},
		{"odd data with pad", wavFile(fmtChunk(codePCM, 1, 4000, 8), goodChunk("data", []byte{192, 64, 128}), list), []float64{0.5, -0.5, 0}, nil},
		{"odd data, file ends without pad", wavFile(fmtChunk(codePCM, 1, 4000, 8), bareChunk("data", 3, []byte{192, 64, 128})), []float64{0.5, -0.5, 0}, nil},
		{"long fmt chunk", wavFile(goodChunk("fmt ", append(fmtBody(codePCM, 1, 4000, 16, 2), make([]byte, 99)...)), data), two, nil},
		{"second fmt and data ignored", wavFile(pcm, fmtChunk(codePCM, 1, 8000, 8), data, goodChunk("data", int16Bytes(1, 2, 3))), two, nil},
		{"wrong RIFF length", append([]byte("RIFF\x00\x00\x00\x00WAVE"), wavFile(pcm, data)[12:]...), two, nil},
		{"bytes behind the end", append(wavFile(pcm, data), 0, 1, 2), two, nil},
		{"fmt after data", wavFile(data, pcm), two, []string{"fmt chunk stands after the data chunk"}},
		{"frame size zero", wavFile(goodChunk("fmt ", fmtBody(codePCM, 1, 4000, 16, 0)), data), two,
			[]string{"fmt chunk gives no frame size; took the 2 bytes of 1 × 16-bit PCM"}},
		{"pad bytes forgotten", wavFile(bareChunk("LIST", 1, []byte{7}), bareChunk("LIST", 3, []byte{7, 7, 7}), pcm, data), two,
			[]string{`2 chunk(s) of odd size without a pad byte, the first "LIST" at byte 20`}},
		{"truncated", wavFile(pcm, bareChunk("data", 400, int16Bytes(16384, -16384))), two,
			[]string{"data chunk claims 400 bytes and has 4; read those"}},
		{"header never finished", wavFile(pcm, bareChunk("data", 0xFFFFFFFF, int16Bytes(16384, -16384))), two,
			[]string{"data chunk claims 4294967295 bytes and has 4; read those"}},
		{"truncated inside a frame", wavFile(pcm, bareChunk("data", 400, append(int16Bytes(16384, -16384), 9))), two,
			[]string{"data chunk claims 400 bytes and has 5; read those", "data chunk ends inside a frame; left out its last 1 bytes"}},
		{"whole chunk not of whole frames", wavFile(pcm, goodChunk("data", append(int16Bytes(16384, -16384), 9)), list), two,
			[]string{"data chunk ends inside a frame; left out its last 1 bytes"}},
		{"float beyond full scale", wavFile(fmtChunk(codeFloat, 1, 4000, 32), goodChunk("data", float32Bytes(0.5, -1.75))), []float64{0.5, -1.75},
			[]string{"peak 1.75 above full scale 1; kept as it is"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, err := new(Decoder).Decode(bytes.NewReader(tt.file))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, c.Samples); diff != "" {
				t.Errorf("samples (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.repairs, c.Repairs); diff != "" {
				t.Errorf("repairs (-want +got):\n%s", diff)
			}
		})
	}
}

// TestErrors checks that what cannot be read is named together with its place.
func TestErrors(t *testing.T) {
	pcm := fmtChunk(codePCM, 1, 4000, 16)
	data := goodChunk("data", int16Bytes(1, 2))
	nan, inf := float32(math.NaN()), float32(math.Inf(-1))
	floats := func(v ...float32) []byte {
		return wavFile(fmtChunk(codeFloat, 2, 4000, 32), goodChunk("data", float32Bytes(v...)))
	}
	ambisonic := append([]byte{0, 0, 0x21, 0x07, 0xD3, 0x11, 0x86, 0x44}, 0xC8, 0xC1, 0xCA, 0, 0, 0)
	tests := []struct {
		name    string
		file    []byte
		channel int
		is      error
		says    string
	}{
		{"empty file", nil, 0, ErrNotWAV, "the file is empty"},
		{"seven bytes", []byte("RIFF\x04\x00\x00"), 0, ErrNotWAV, "7 bytes"},
		{"text", []byte("patient,site,murmur\n"), 0, ErrNotWAV, `begins with "pati"`},
		{"other RIFF", []byte("RIFF\x04\x00\x00\x00AVI "), 0, ErrNotWAV, `content "AVI "`},
		{"big-endian", fixture(t, "rifx.wav"), 0, ErrNotWAV, "big-endian RIFX"},
		{"Sun AU", fixture(t, "au.wav"), 0, ErrNotWAV, "Sun AU"},
		{"AIFF", []byte("FORM\x00\x00\x00\x04AIFF"), 0, ErrNotWAV, "AIFF"},
		{"Wave64", fixture(t, "wave64.wav"), 0, ErrNotWAV, "Wave64"},
		{"FLAC", fixture(t, "flac.wav"), 0, ErrNotWAV, "FLAC"},
		{"header alone", wavFile(), 0, ErrNoFormat, "fetch the file again"},
		{"no fmt", wavFile(data), 0, ErrNoFormat, "fetch the file again"},
		{"not chunks", wavFile(make([]byte, 1000)), 0, ErrNoFormat, "fetch the file again"},
		{"no data", wavFile(pcm), 0, ErrNoSamples, "no data chunk"},
		{"ends in a chunk header", wavFile(pcm, []byte("data\x04\x00")), 0, ErrNoSamples, "no data chunk"},
		{"chunk of 4 GB before data", wavFile(pcm, bareChunk("LIST", 0xFFFFFFFE, nil), data), 0, ErrNoSamples, "no data chunk"},
		{"fmt of 4 GB", wavFile(bareChunk("fmt ", 0xFFFFFFF0, pcm[8:])), 0, ErrNoSamples, "no data chunk"},
		{"fmt cut off", wavFile(bareChunk("fmt ", 16, pcm[8:20])), 0, ErrFormat, "at byte 20: fmt chunk contradicts itself: 12 bytes"},
		{"data of no length", wavFile(pcm, goodChunk("data", nil)), 0, ErrNoSamples, "leave the recording out"},
		{"length never written", wavFile(pcm, bareChunk("data", 0, int16Bytes(1, 2, 3))), 0, ErrNoSamples, "with 6 bytes behind it"},
		{"data cut off", wavFile(pcm, bareChunk("data", 4000, []byte{1})), 0, ErrNoSamples, "claims 4000 bytes, has 1"},
		{"A-law", fixture(t, "alaw.wav"), 0, ErrEncoding, "A-law (format code 0x0006)"},
		{"µ-law", fixture(t, "mulaw.wav"), 0, ErrEncoding, "µ-law (format code 0x0007)"},
		{"Microsoft ADPCM", fixture(t, "msadpcm.wav"), 0, ErrEncoding, "Microsoft ADPCM"},
		{"IMA ADPCM", fixture(t, "imaadpcm.wav"), 0, ErrEncoding, "IMA ADPCM"},
		{"GSM", fixture(t, "gsm.wav"), 0, ErrEncoding, "GSM 6.10"},
		{"unknown codec", wavFile(fmtChunk(0x1234, 1, 4000, 16), data), 0, ErrEncoding, "unknown codec (format code 0x1234)"},
		{"PCM of 64 bits", wavFile(fmtChunk(codePCM, 1, 4000, 64), data), 0, ErrEncoding, "PCM of 64 bits"},
		{"PCM of no bits", wavFile(fmtChunk(codePCM, 1, 4000, 0), data), 0, ErrEncoding, "PCM of 0 bits"},
		{"float of 16 bits", wavFile(fmtChunk(codeFloat, 1, 4000, 16), data), 0, ErrEncoding, "float of 16 bits"},
		{"float of 31 bits", wavFile(fmtChunk(codeFloat, 1, 4000, 31), data), 0, ErrEncoding, "float of 31 bits"},
		{"foreign sub-format", wavFile(extensibleChunk(codePCM, 1, 4000, 16, 16, ambisonic), data), 0, ErrEncoding, "sub-format 01000000"},
		{"A-law under the extensible tag", wavFile(extensibleChunk(6, 1, 4000, 8, 8, subFormatTail), data), 0, ErrEncoding, "A-law"},
		{"extensible without its fields", wavFile(fmtChunk(codeExtensible, 1, 4000, 16), data), 0, ErrFormat, "16 bytes where the extensible format has 40"},
		{"no channels", wavFile(fmtChunk(codePCM, 0, 4000, 16), data), 0, ErrFormat, "no channels"},
		{"frame size contradicts", wavFile(goodChunk("fmt ", fmtBody(codePCM, 2, 4000, 24, 8)), data), 0, ErrFormat, "frames of 8 bytes, but 2 × 24-bit PCM is 6"},
		{"rate too low", fixture(t, "rate499.wav"), 0, ErrRate, "499 Hz, want 500 to 192000 Hz"},
		{"rate too high", wavFile(fmtChunk(codePCM, 1, 192001, 16), data), 0, ErrRate, "192001 Hz"},
		{"rate of 4 GHz", wavFile(fmtChunk(codePCM, 1, 0xFFFFFFFF, 16), data), 0, ErrRate, "4294967295 Hz"},
		{"third of one channel", wavFile(pcm, data), 3, ErrChannel, "channel 3 of 1"},
		{"negative channel", wavFile(pcm, data), -1, ErrChannel, "channel -1 of 1"},
		{"NaN", floats(0, 0, 0, nan), 0, ErrNotFinite, "frame 1, channel 2: NaN: cut the recording"},
		{"Inf", floats(0, 0, 0, 0, inf, 0), 1, ErrNotFinite, "frame 2, channel 1: -Inf"},
		{"mean overflows", wavFile(fmtChunk(codeFloat, 2, 4000, 64), goodChunk("data", float64Bytes(math.MaxFloat64, math.MaxFloat64))), 0,
			ErrNotFinite, "frame 0: the mean of its channels overflows"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d := &Decoder{Channel: tt.channel}
			c, err := d.Decode(bytes.NewReader(tt.file))
			if err == nil {
				t.Fatalf("read %d samples, repairs %q", len(c.Samples), c.Repairs)
			}
			if !errors.Is(err, tt.is) {
				t.Errorf("%v: is not %q", err, tt.is)
			}
			if !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%v: does not say %q", err, tt.says)
			}
		})
	}
}

// TestNaNElsewhere reads the sound channel of a file whose other one is not.
func TestNaNElsewhere(t *testing.T) {
	file := wavFile(fmtChunk(codeFloat, 2, 4000, 32), goodChunk("data", float32Bytes(0.5, float32(math.NaN()), 0.25, 0)))
	d := &Decoder{Channel: 1}
	c, err := d.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]float64{0.5, 0.25}, c.Samples); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
}

// TestNaNInLaterBlock checks that frames are counted through the whole file.
func TestNaNInLaterBlock(t *testing.T) {
	v := make([]float32, 3*blockBytes/4)
	v[40000] = float32(math.NaN())
	file := wavFile(fmtChunk(codeFloat, 1, 4000, 32), goodChunk("data", float32Bytes(v...)))
	_, err := new(Decoder).Decode(bytes.NewReader(file))
	if !errors.Is(err, ErrNotFinite) || !strings.Contains(err.Error(), "frame 40000,") {
		t.Errorf("got %v, want frame 40000", err)
	}
}

func TestDecodeFileErrors(t *testing.T) {
	dir := t.TempDir()
	if _, err := new(Decoder).DecodeFile(filepath.Join(dir, "absent.wav")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("absent file: %v", err)
	}
	path := filepath.Join(dir, "text.wav")
	if err := os.WriteFile(path, []byte("not audio at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := new(Decoder).DecodeFile(path)
	if !errors.Is(err, ErrNotWAV) || !strings.Contains(err.Error(), path) {
		t.Errorf("got %v, want ErrNotWAV with the path", err)
	}
}

// failing fails every read that reaches beyond good, as a broken disk does, and
// every call of Seek after the first seeks.
type failing struct {
	*bytes.Reader
	good, seeks int64
	err         error
}

func (f *failing) Seek(offset int64, whence int) (int64, error) {
	if f.seeks--; f.seeks < 0 {
		return 0, f.err
	}
	return f.Reader.Seek(offset, whence)
}

func (f *failing) Read(p []byte) (int, error) {
	if at, _ := f.Reader.Seek(0, io.SeekCurrent); at+int64(len(p)) > f.good {
		return 0, f.err
	}
	return f.Reader.Read(p)
}

// Whichever read or seek fails, the decoder says how.
func TestReadErrors(t *testing.T) {
	samples := goodChunk("data", []byte{1, 0, 2, 0})
	broken := errors.New("broken disk")
	for name, file := range map[string][]byte{
		"plain":            fixture(t, "int16.wav"),
		"odd chunk before": wavFile(fmtChunk(codePCM, 1, 2000, 16), goodChunk("LIST", []byte{1, 2, 3}), samples),
		"data before fmt":  wavFile(samples, fmtChunk(codePCM, 1, 2000, 16)),
	} {
		const always = 1 << 40
		for good := range int64(len(file)) {
			if _, err := new(Decoder).Decode(&failing{bytes.NewReader(file), good, always, broken}); !errors.Is(err, broken) {
				t.Fatalf("%s: good to byte %d: %v", name, good, err)
			}
		}
		seeks := int64(0)
		for ; seeks < 100; seeks++ {
			_, err := new(Decoder).Decode(&failing{bytes.NewReader(file), always, seeks, broken})
			if err == nil {
				break
			}
			if !errors.Is(err, broken) {
				t.Fatalf("%s: after %d seeks: %v", name, seeks, err)
			}
		}
		if seeks < 4 || seeks == 100 {
			t.Errorf("%s: %d seeks", name, seeks)
		}
	}
}

// TestReuse decodes long, short and bad files with one Decoder.
func TestReuse(t *testing.T) {
	var d Decoder
	long, err := d.Decode(bytes.NewReader(fixture(t, "int24.wav")))
	if err != nil {
		t.Fatal(err)
	}
	first := &long.Samples[0]
	if _, err := d.Decode(strings.NewReader("nonsense, as it happens")); err == nil {
		t.Fatal("nonsense was read")
	}
	truncated := fixture(t, "int16.wav")[:100]
	c, err := d.Decode(bytes.NewReader(truncated))
	if err != nil {
		t.Fatal(err)
	}
	repairs := c.Repairs
	if len(c.Samples) != 28 || len(repairs) != 1 {
		t.Errorf("%d samples, repairs %q", len(c.Samples), repairs)
	}
	if &c.Samples[0] != first {
		t.Error("memory was not used again")
	}
	c, err = d.Decode(bytes.NewReader(fixture(t, "uint8.wav")))
	if err != nil {
		t.Fatal(err)
	}
	if c.Repairs != nil || !strings.HasPrefix(repairs[0], "data chunk claims") {
		t.Errorf("repairs now %q, of the file before %q", c.Repairs, repairs)
	}
	fresh, err := new(Decoder).Decode(bytes.NewReader(fixture(t, "uint8.wav")))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(fresh, c); diff != "" {
		t.Errorf("fresh and used decoder differ:\n%s", diff)
	}
}

// TestStart decodes a file that begins in the middle of a stream.
func TestStart(t *testing.T) {
	r := bytes.NewReader(append([]byte("front"), fixture(t, "uint8_3ch_extensible.wav")...))
	if _, err := r.Seek(5, io.SeekStart); err != nil {
		t.Fatal(err)
	}
	c, err := new(Decoder).Decode(r)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Samples) != 201 || c.Repairs != nil {
		t.Errorf("%d samples, repairs %q", len(c.Samples), c.Repairs)
	}
}

func TestDuration(t *testing.T) {
	c := Clip{Frames: 44101, Rate: 44100}
	if got, want := c.Duration(), time.Second+22676*time.Nanosecond; got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

// TestClaimsAllocateNothing lets headers claim gigabytes.
func TestClaimsAllocateNothing(t *testing.T) {
	pcm := fmtChunk(codePCM, 1, 4000, 16)
	two := int16Bytes(1, 2)
	for _, file := range [][]byte{
		wavFile(pcm, bareChunk("data", 0xFFFFFFFF, two)),
		wavFile(pcm, bareChunk("LIST", 0xFFFFFFFE, two)),
		wavFile(bareChunk("fmt ", 0xFFFFFFF0, pcm[8:])),
		wavFile(fmtChunk(codePCM, 65535, 192000, 8), bareChunk("data", 0xFFFFFFF0, make([]byte, 65536))),
	} {
		var before, after runtime.MemStats
		var d Decoder
		r := bytes.NewReader(file)
		runtime.ReadMemStats(&before)
		_, err := d.Decode(r)
		runtime.ReadMemStats(&after)
		if got := after.TotalAlloc - before.TotalAlloc; got > 256<<10 {
			t.Errorf("allocated %d bytes for a file of %d (error: %v)", got, len(file), err)
		}
	}
}

// TestTooManySamples opens sparse files that are larger than memory should be.
func TestTooManySamples(t *testing.T) {
	name := filepath.Join(t.TempDir(), "x.wav")
	for _, frames := range []int64{MaxFrames + 1, 1 << 29} {
		header := wavFile(fmtChunk(codePCM, 1, 44100, 16), bareChunk("data", uint32(2*frames), nil))
		if err := os.WriteFile(name, header, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Truncate(name, int64(len(header))+2*frames); err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		var d Decoder
		runtime.ReadMemStats(&before)
		_, err := d.DecodeFile(name)
		runtime.ReadMemStats(&after)
		if !errors.Is(err, ErrTooLarge) || !strings.Contains(err.Error(), fmt.Sprintf("%d at 44100 Hz", frames)) {
			t.Errorf("%d samples: %v", frames, err)
		}
		if got := after.TotalAlloc - before.TotalAlloc; got > 256<<10 {
			t.Errorf("allocated %d bytes for %d samples", got, frames)
		}
	}
}

// TestManyChunks reads files that consist of chunks, without samples.
func TestManyChunks(t *testing.T) {
	for _, c := range []struct {
		chunk []byte
		want  error
	}{
		{bareChunk("LIST", 0, nil), ErrNoFormat},
		{bareChunk("LIST", 1, []byte("x")), ErrNoFormat}, // without its pad byte
	} {
		file := wavFile(bytes.Repeat(c.chunk, maxChunks+1), fmtChunk(codePCM, 1, 4000, 8), bareChunk("data", 1, []byte("x")))
		var d Decoder
		if _, err := d.Decode(bytes.NewReader(file)); !errors.Is(err, c.want) {
			t.Errorf("%v", err)
		}
	}
}

// TestDecodeAllocations checks that a warm Decoder allocates as much for a
// minute of audio as for a tenth of a second: the chunk headers alone.
func TestDecodeAllocations(t *testing.T) {
	pcm := fmtChunk(codePCM, 2, 4000, 16)
	var d Decoder
	measure := func(frames int) float64 {
		file := wavFile(pcm, goodChunk("data", make([]byte, 4*frames)))
		r := bytes.NewReader(file)
		return testing.AllocsPerRun(10, func() {
			r.Reset(file)
			if _, err := d.Decode(r); err != nil {
				t.Fatal(err)
			}
		})
	}
	long, short := measure(240_000), measure(400)
	if long != short || long > 12 {
		t.Errorf("%v allocations for a minute, %v for a tenth of a second, want the same and at most 12", long, short)
	}
}
