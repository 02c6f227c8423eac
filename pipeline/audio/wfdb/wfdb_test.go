package wfdb

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// memory is a file in memory.
type memory struct{ *bytes.Reader }

func (memory) Close() error { return nil }

// files opens files in memory.
func files(content map[string][]byte) Opener {
	return func(name string) (io.ReadSeekCloser, error) {
		b, ok := content[name]
		if !ok {
			return nil, fs.ErrNotExist
		}
		return memory{bytes.NewReader(b)}, nil
	}
}

func parse(t testing.TB, header string) *Header {
	t.Helper()
	h, err := ReadHeader(strings.NewReader(header))
	if err != nil {
		t.Fatalf("%q: %v", header, err)
	}
	return h
}

// TestFormats: bytes put together by hand, after signal(5).
func TestFormats(t *testing.T) {
	for _, c := range []struct {
		format string
		bytes  []byte
		want   string
	}{
		// Low byte first: 0x0102 = 258, 0xFFFF = -1, 0x7FFF = 32767, 0x8000 is no sample.
		{"16", []byte{0x02, 0x01, 0xFF, 0xFF, 0xFF, 0x7F, 0x00, 0x80}, "[258 -1 32767 NaN]"},
		// High byte first, the same values.
		{"61", []byte{0x01, 0x02, 0xFF, 0xFF, 0x7F, 0xFF, 0x80, 0x00}, "[258 -1 32767 NaN]"},
		// 0x010203 = 66051, 0xFFFFFE = -2, 0x800001 = -(2^23) + 1, 0x800000 is no sample.
		{"24", []byte{0x03, 0x02, 0x01, 0xFE, 0xFF, 0xFF, 0x01, 0x00, 0x80, 0x00, 0x00, 0x80}, "[66051 -2 -8.388607e+06 NaN]"},
		// 0x01020304 = 16909060, 0xFFFFFFFD = -3, 0x80000001 = -(2^31) + 1, 0x80000000 is no sample.
		{"32", []byte{4, 3, 2, 1, 0xFD, 0xFF, 0xFF, 0xFF, 1, 0, 0, 0x80, 0, 0, 0, 0x80}, "[1.6909060e+07 -3 -2.147483647e+09 NaN]"},
		// 128 stands for 0: 129-128, 128-128, 255-128, 1-128; 0 is no sample.
		{"80", []byte{129, 128, 255, 1, 0}, "[1 0 127 -127 NaN]"},
		// The first of a pair is byte 1 and the low half of byte 2, the second byte 3
		// and its high half. 0x21 0x43 0x65: 0x321 = 801, 0x465 = 1125.
		// 0xFF 0x7F 0xFF: 0xFFF = -1, 0x7FF = 2047. 0x00 0x98 0x01: 0x800 is no
		// sample, 0x901 = 2305 - 4096 = -1791.
		{"212", []byte{0x21, 0x43, 0x65, 0xFF, 0x7F, 0xFF, 0x00, 0x98, 0x01}, "[801 1125 -1 2047 NaN -1791]"},
		// An odd number of samples ends with two bytes: 0xFFE = -2.
		{"212", []byte{0x21, 0x43, 0x65, 0xFE, 0x0F}, "[801 1125 -2]"},
	} {
		h := parse(t, "r 1 500\nr.dat "+c.format+"+2 1/V\n")
		s, err := h.ReadSignal(0, files(map[string][]byte{"r.dat": append([]byte{7, 9}, c.bytes...)}))
		if err != nil {
			t.Errorf("format %s: %v", c.format, err)
			continue
		}
		if got := strings.ReplaceAll(fmt.Sprint(s.Values), "1.690906e+07", "1.6909060e+07"); got != c.want || s.Rate != 500 || s.Units != "V" || s.Warnings != nil {
			t.Errorf("format %s: %s at %g Hz in %s, %v", c.format, got, s.Rate, s.Units, s.Warnings)
		}
	}
}

// TestDefaults: what header(5) says of fields that are left out.
func TestDefaults(t *testing.T) {
	h := parse(t, "# before\n\nrec 2\na.dat 16\r\nb.dat 212x2:3+44 -50.5(-1024)/mm_Hg 10 -5 7 -9 0 two  words \n# age: 5\n")
	want := &Header{Record: "rec", Rate: 250, Signals: []Signal{
		{File: "a.dat", Format: 16, PerFrame: 1, Gain: 200, Units: "mV", width: 1},
		{File: "b.dat", Format: 212, PerFrame: 2, Skew: 3, Offset: 44, Gain: -50.5, Baseline: -1024, Units: "mm_Hg",
			Resolution: 10, Zero: -5, Checksum: -9, Description: "two  words", width: 2},
	}}
	if got := fmt.Sprintf("%+v", h); got != fmt.Sprintf("%+v", want) {
		t.Errorf("%s\n%+v", got, want)
	}
	h = parse(t, "rec 1 360/1000(-5) 650000 12:00:00 1/2/2003\na.dat 16 0 12 1024\n")
	if s := h.Signals[0]; h.Rate != 360 || h.Frames != 650000 || s.Gain != 200 || s.Baseline != 1024 || s.Zero != 1024 {
		t.Errorf("%+v", h)
	}
}

// TestFrames: signals side by side in one file, a signal with two samples in a
// frame, and one whose first sample precedes the record.
func TestFrames(t *testing.T) {
	// Frames of four samples: a, b, b, c.
	data := []byte{}
	for i := range 5 {
		data = append(data, byte(128+i), byte(128+10+2*i), byte(128+11+2*i), byte(128+50+i))
	}
	h := parse(t, "r 4 100 4\nx.dat 80 10(1)/mV 8 0 0 6 0 a\nx.dat 80x2 2 8 0 0 0 0 b\nx.dat 80:1 1 8 0 0 260 0 c\ny.dat 16 1 16 0 0 3 0 d\n")
	open := files(map[string][]byte{"x.dat": data, "y.dat": {5, 0, 6, 0, 7, 0}})
	for i, want := range []string{
		"[-0.1 0 0.1 0.2] 100 []", // (0 - 1)/10 and so on; checksum 0+1+2+3
		"[5 5.5 6 6.5 7 7.5 8 8.5] 200 []",
		"[51 52 53 54] 100 []", // checksum 50+51+52+53+54
		"[5 6 7] 100 [header claims 4 samples and y.dat has 3; read those]",
	} {
		s, err := h.ReadSignal(i, open)
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(s.Values, s.Rate, s.Warnings); got != want {
			t.Errorf("signal %d: %s, want %s", i+1, got, want)
		}
	}
	h.Signals[0].Checksum = 7
	if s, err := h.ReadSignal(0, open); err != nil || fmt.Sprint(s.Warnings) != "[checksum of x.dat is 7, and its samples give 6: compare the file with its source]" {
		t.Error(s, err)
	}
}

// TestBlocks: a signal longer than a block, in a frame of an odd number of samples
// of 12 bits.
func TestBlocks(t *testing.T) {
	const frames = 20001
	var data []byte
	value := func(k int) int { return k*7%4095 - 2047 }
	for k := 0; k < 3*frames+1; k += 2 {
		a, b := value(k)&0xFFF, value(k+1)&0xFFF
		data = append(data, byte(a), byte(a>>8|b>>4&0xF0), byte(b))
	}
	h := parse(t, fmt.Sprintf("r 3 100 %d\nx.dat 212 1\nx.dat 212 1\nx.dat 212 1\n", frames))
	for i := range 3 {
		s, err := h.ReadSignal(i, files(map[string][]byte{"x.dat": data}))
		if err != nil || len(s.Values) != 20001 {
			t.Fatal(err)
		}
		for f, v := range s.Values {
			if want := value(3*f + i); v != float64(want) {
				t.Fatalf("signal %d, frame %d: %g, want %d", i, f, v, want)
			}
		}
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		header string
		err    error
		text   string
	}{
		{"", ErrHeader, "no record line"},
		{"# only a comment\n", ErrHeader, "no record line"},
		{strings.Repeat("# long\n", 200_000), ErrHeader, "more than 1024 KiB"},
		{"r/3 2 500 1000\nr1 500\nr2 500\n", ErrSegments, `line 1: record of several segments: "r" has 3: name the headers of its segments`},
		{"r\n", ErrHeader, `number of signals ""`},
		{"r x\n", ErrHeader, `number of signals "x"`},
		{"r 1025\n", ErrHeader, "at most 1024"},
		{"r 1 0\n", ErrHeader, `rate "0": want a number above 0`},
		{"r 1 NaN\n", ErrHeader, `rate "NaN"`},
		{"r 1 500 -5\n", ErrHeader, `number of samples "-5"`},
		{"r 0\n", ErrNoSignal, "the record has no signal"},
		{"r 2\na.dat 16\n", ErrHeader, "it claims 2 signals and describes 1"},
		{"r 1\n#\na.dat\n", ErrHeader, `line 3: not a header of a WFDB record: format ""`},
		{"r 1\na.dat 16*2\n", ErrHeader, `format "16*2"`},
		{"r 1\na.dat 16x0\n", ErrHeader, "samples per frame"},
		{"r 1\na.dat 16x5000\n", ErrHeader, "1 to 4096"},
		{"r 1\na.dat 16 x\n", ErrHeader, `gain "x"`},
		{"r 1\na.dat 16 1(z)\n", ErrHeader, `baseline "1(z)"`},
		{"r 1\na.dat 16 1 40\n", ErrHeader, `resolution "40"`},
		{"r 1\na.dat 16 1 16 zero\n", ErrHeader, `zero "zero"`},
		{"r 3\na.dat 16\nb.dat 16\na.dat 16\n", ErrHeader, "do not stand together"},
		{"r 2\na.dat 16\na.dat 212\n", ErrHeader, "differ in format or offset"},
		{"r 2\na.dat 16\na.dat 16+2\n", ErrHeader, "differ in format or offset"},
		{"r 3\na.dat 16x4096\na.dat 16x4096\na.dat 16\n", ErrHeader, "more than 8192 samples in a frame"},
	} {
		if _, err := ReadHeader(strings.NewReader(c.header)); !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.text) {
			t.Errorf("%.40q: %v", c.header, err)
		}
	}
	open := files(map[string][]byte{"a.dat": {1, 2, 3, 4}})
	for _, c := range []struct {
		signal string
		err    error
		text   string
	}{
		{"a.dat 8", ErrFormat, `format 8 of "a.dat": convert the record to one of 16, 24, 32, 61, 80, 212`},
		{"a.dat 310", ErrFormat, "format 310"},
		{"~ 16", ErrNoSamples, "none are stored of this signal"},
		{"- 16", ErrHeader, "want the name of a file beside the header"},
		{"../a.dat 16", ErrHeader, "want the name of a file beside the header"},
		{`c:\a.dat 16`, ErrHeader, "want the name of a file beside the header"},
		{"b.dat 16", fs.ErrNotExist, "not exist"},
		{"a.dat 16+3", ErrNoSamples, "4 bytes, of which 3 come before its first sample"},
		{"a.dat 16:2", ErrNoSamples, "4 bytes"},
		{"a.dat 16+281474976710656", ErrHeader, "offset"},
	} {
		h, err := ReadHeader(strings.NewReader("r 1\n" + c.signal + "\n"))
		if err == nil {
			_, err = h.ReadSignal(0, open)
		}
		if !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.text) {
			t.Errorf("%q: %v", c.signal, err)
		}
	}
}

func TestFind(t *testing.T) {
	h := parse(t, "r 4\na.wav 16+44 1 16 0 0 0 0 PCG\nb.dat 16 1 16 0 0 0 0 ECG lead I\nb.dat 16 1 16 0 0 0 0 1\nb.dat 16\n")
	for name, want := range map[string]int{"PCG": 0, "pcg": 0, "ECG lead I": 1, "1": 2, "2": 1, "4": 3} {
		if i, err := h.Find(name); err != nil || i != want {
			t.Errorf("%q: %d, %v", name, i, err)
		}
	}
	for _, name := range []string{"", "ECG", "0", "5", "-1"} {
		if _, err := h.Find(name); !errors.Is(err, ErrNoSignal) || !strings.Contains(err.Error(), "the record has 1 PCG, 2 ECG lead I, 3 1, 4") {
			t.Errorf("%q: %v", name, err)
		}
	}
	h = parse(t, "r 2\na.wav 16+44 1 16 0 0 0 0 PCG\nb.wav 16+44 1 16 0 0 0 0 PCG\n")
	if _, err := h.Find("PCG"); err == nil || !strings.Contains(err.Error(), `two signals are called "PCG": give the number of one`) {
		t.Error(err)
	}
}

// dataRoot returns the folder of the real records, or skips.
func dataRoot(t *testing.T) string {
	t.Helper()
	root := os.Getenv("PHONOCYCLE_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "..", "..", "shared", "data")
	}
	folder := filepath.Join(root, "cinc2016")
	if _, err := os.Stat(folder); err != nil {
		t.Skipf("no records: %v (set PHONOCYCLE_DATA to the folder of the data sets)", err)
	}
	return folder
}

// TestRealRecords reads the records of the PhysioNet/CinC Challenge 2016 that are
// here. Their ECG has checksums that hold; the PCG, in WAV files, has none. The
// values of a0001 are those that NumPy reads from its files.
func TestRealRecords(t *testing.T) {
	folder := dataRoot(t)
	headers, err := filepath.Glob(filepath.Join(folder, "training-*", "*.hea"))
	if err != nil || len(headers) == 0 {
		t.Fatal("no headers", err)
	}
	ecgs := 0
	for _, name := range headers {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		h := parse(t, string(text))
		open := func(file string) (io.ReadSeekCloser, error) { return os.Open(filepath.Join(filepath.Dir(name), file)) }
		for i := range h.Signals {
			s, err := h.ReadSignal(i, open)
			if err != nil || s.Rate != 2000 || int64(len(s.Values)) != h.Frames || s.Warnings != nil {
				t.Fatalf("%s: %v, %+v", name, err, s)
			}
			if h.Signals[i].Description != "ECG" {
				if slices.ContainsFunc(s.Values, math.IsNaN) {
					t.Errorf("%s: a sample of a WAV file is missing", name)
				}
				continue
			}
			ecgs++
			if h.Signals[i].Checksum == 0 {
				t.Errorf("%s: no checksum", name)
			}
			if filepath.Base(name) == "a0001.hea" && fmt.Sprint(s.Values[:4], s.Values[71331]) != "[0 0.015 0.046 0.094] 4.878" {
				t.Errorf("%s: %v … %v", name, s.Values[:4], s.Values[71331])
			}
		}
	}
	t.Logf("%d records, %d with ECG", len(headers), ecgs)
}

// FuzzRecord feeds arbitrary headers and signal files.
func FuzzRecord(f *testing.F) {
	f.Add("a0001 2 2000 4\na.wav 16+4 1 16 0 0 0 0 PCG\nb.dat 16 1000 16 0 0 367 0 ECG\n", []byte("RIFF\x01\x00\x02\x00\x03\x00\x04\x00"), uint8(0))
	f.Add("r 3 360 3\nb.dat 212 200(1024)/mV 11 1024 995 -22131 0 MLII\nb.dat 212x2\nb.dat 212:1\n", bytes.Repeat([]byte{1, 2, 3}, 9), uint8(1))
	f.Add("r 1 250 5\nb.dat 24\n", bytes.Repeat([]byte{255}, 15), uint8(0))
	f.Add("r 1\nb.dat 80\n", []byte{0, 128, 255}, uint8(0))
	f.Add("r 1\nb.dat 61\n", []byte{0, 128, 255}, uint8(0))
	f.Add("r/2 1\nr1 5\nr2 5\n", []byte{}, uint8(0))
	f.Add("r 1 1e300\nb.dat 32x4096:9+9 0(9)/x 32 9 9 9 9 9 \xff\n", []byte("0123456789"), uint8(0))
	f.Fuzz(func(t *testing.T, header string, data []byte, which uint8) {
		h, err := ReadHeader(strings.NewReader(header))
		if err != nil {
			return
		}
		i := int(which) % len(h.Signals)
		open := func(string) (io.ReadSeekCloser, error) { return memory{bytes.NewReader(data)}, nil }
		r, err := h.Open(i, open)
		if err != nil {
			return
		}
		if r.Len <= 0 || r.Len > len(data) {
			t.Fatalf("%d samples in %d bytes", r.Len, len(data))
		}
		if _, err := h.ReadSignal(i, open); err != nil {
			t.Fatal(err)
		}
	})
}
