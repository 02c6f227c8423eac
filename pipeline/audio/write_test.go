package audio

import (
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestWriteWAVRoundTrip(t *testing.T) {
	// More samples than WriteWAV hands to the encoder at once.
	x := sine(10_001, 37.3, 0, 2000)
	x[0], x[1], x[2], x[3], x[4] = 1, -1, 0, 0.5*0x1p-15, 1-0x1p-15
	path := filepath.Join(t.TempDir(), "out.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := WriteWAV(f, x, 2000); err != nil {
		t.Fatal(err)
	}

	c, err := new(Decoder).DecodeFile(path)
	if err != nil {
		t.Fatal(err)
	}
	got, want := *c, Clip{Frames: len(x), Rate: 2000, Channels: 1, BitsPerSample: 16, Encoding: "16-bit PCM"}
	got.Samples = nil
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("clip (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]float64{1 - 0x1p-15, -1, 0, 0x1p-15, 1 - 0x1p-15}, c.Samples[:5]); diff != "" {
		t.Errorf("special values (-want +got):\n%s", diff)
	}
	if len(c.Samples) != len(x) {
		t.Fatalf("%d samples, want %d", len(c.Samples), len(x))
	}
	for i, v := range c.Samples {
		if e := math.Abs(v - min(x[i], 1-0x1p-15)); e > 0x1p-16 {
			t.Fatalf("sample %d: wrote %v, read %v", i, x[i], v)
		}
	}

	// The layout of a plain file, byte for byte: 44 bytes of header, in which
	// the lengths are those of the file.
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	data := make([]byte, 2*len(x))
	copy(data, b[44:])
	if diff := cmp.Diff(wavFile(fmtChunk(codePCM, 1, 2000, 16), goodChunk("data", data)), b); diff != "" {
		t.Errorf("file (-want +got):\n%s", diff)
	}
}

func TestWriteWAVErrors(t *testing.T) {
	tests := []struct {
		name    string
		samples []float64
		rate    int
		is      error
		says    string
	}{
		{"rate too low", []float64{0}, 499, ErrRate, "499 Hz"},
		{"rate too high", []float64{0}, 192001, ErrRate, "192001 Hz"},
		{"nothing", nil, 1000, ErrNoSamples, "empty"},
		{"NaN", []float64{0, math.NaN()}, 1000, ErrNotFinite, "sample 1: NaN"},
		{"Inf", []float64{math.Inf(1)}, 1000, ErrNotFinite, "sample 0: +Inf"},
		{"beyond full scale", []float64{0, 1, -1, -1.01}, 1000, ErrFullScale, "sample 3: -1.01"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var w counting
			err := WriteWAV(&w, tt.samples, tt.rate)
			if !errors.Is(err, tt.is) || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %v, want %q saying %q", err, tt.is, tt.says)
			}
			if w.calls != 0 {
				t.Errorf("%d calls of the writer before the error", w.calls)
			}
		})
	}
}

// counting fails from the call number fail on, unless that is zero.
type counting struct {
	calls, fail int
	err         error
}

func (c *counting) call() error {
	c.calls++
	if c.fail > 0 && c.calls >= c.fail {
		return c.err
	}
	return nil
}

func (c *counting) Write(p []byte) (int, error)    { return len(p), c.call() }
func (c *counting) Seek(int64, int) (int64, error) { return 0, c.call() }

var _ io.WriteSeeker = (*counting)(nil)

// TestWriteWAVTellsOfFailure lets every call of the writer fail in turn.
func TestWriteWAVTellsOfFailure(t *testing.T) {
	var sound counting
	if err := WriteWAV(&sound, []float64{0, 0.5}, 1000); err != nil {
		t.Fatal(err)
	}
	full := errors.New("disk full")
	for fail := 1; fail <= sound.calls; fail++ {
		if err := WriteWAV(&counting{fail: fail, err: full}, []float64{0, 0.5}, 1000); err == nil || !strings.Contains(err.Error(), full.Error()) {
			t.Errorf("call %d of %d failed and WriteWAV says %v", fail, sound.calls, err)
		}
	}
}

// A 32-bit float file holds any finite float to the bit, and no clipping is needed.
func TestFloatRoundTrip(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "float.wav"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want := []float64{0, 0.1, -1.5, 7, math.MaxFloat32, math.SmallestNonzeroFloat32, 1 - 0x1p-24}
	for len(want) <= 2*writeBlock {
		want = append(want, math.Sin(float64(len(want))))
	}
	if err := Float32.Write(f, want, 4000); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		t.Fatal(err)
	}
	clip, err := new(Decoder).Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	if clip.Rate != 4000 || len(clip.Samples) != len(want) || clip.Encoding != "32-bit float" {
		t.Fatalf("%d samples at %d Hz, %s", len(clip.Samples), clip.Rate, clip.Encoding)
	}
	for i, v := range want {
		if got := clip.Samples[i]; math.Float64bits(got) != math.Float64bits(float64(float32(v))) {
			t.Errorf("sample %d: wrote %v, read %v", i, v, got)
		}
	}
}
