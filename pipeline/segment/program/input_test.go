package program

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
)

// tone returns n samples of 50 Hz at a rate.
func tone(n, rate int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 50 * float64(i) / float64(rate))
	}
	return x
}

// Each rule gives the signal that it says.
func TestSignals(t *testing.T) {
	in := segment.NewInput(tone(2000, 1000))
	in.Samples, in.Rate = tone(8000, 4000), 4000
	band := func(x []float64, low, high float64, rate int) []float64 {
		sos, err := signal.ButterworthBandPass(bandOrder, low, high, float64(rate))
		if err != nil {
			t.Fatal(err)
		}
		return signal.NewZeroPhase(sos).Filter(nil, x)
	}
	at2000 := audio.NewResampler(2000).Resample(nil, in.Samples, 4000)
	for _, tt := range []struct {
		name string
		rule inputRule
		want []float64
		rate int
	}{
		{"1 kHz", inputRule{rate: 1000}, in.X, 1000},
		{"1 kHz, its band", inputRule{rate: 1000, band: &[2]float64{25, 400}}, in.Band(), 1000},
		{"1 kHz, a band", inputRule{rate: 1000, band: &[2]float64{30, 200}}, band(in.X, 30, 200, 1000), 1000},
		{"as recorded", inputRule{}, in.Samples, 4000},
		{"as recorded, a band", inputRule{band: &[2]float64{25, 400}}, band(in.Samples, 25, 400, 4000), 4000},
		{"2 kHz", inputRule{rate: 2000}, at2000, 2000},
		{"2 kHz, a band", inputRule{rate: 2000, band: &[2]float64{25, 400}}, band(at2000, 25, 400, 2000), 2000},
	} {
		s := &inputs{inputRule: tt.rule}
		for range 2 { // the second time with what was kept
			got, rate, err := s.signal(in.Waveform, &in.Source)
			if err != nil || rate != tt.rate || len(got) != len(tt.want) {
				t.Fatalf("%s: %d samples at %d Hz, %v", tt.name, len(got), rate, err)
			}
			for i := range got {
				if got[i] != tt.want[i] {
					t.Fatalf("%s: sample %d is %g, want %g", tt.name, i, got[i], tt.want[i])
				}
			}
		}
	}
	s := &inputs{inputRule: inputRule{band: &[2]float64{25, 2500}}}
	if _, _, err := s.signal(in.Waveform, &in.Source); err == nil || !strings.Contains(err.Error(), "half the sampling rate, 2000 Hz") {
		t.Errorf("error %v", err)
	}
}

// A program sees its request, its folder and a private folder for temporary files.
func TestWhatAProgramSees(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	wav := filepath.Join(t.TempDir(), "a.wav")
	if err := os.WriteFile(wav, []byte("RIFF"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		more []string
		want string
	}{
		{[]string{"labels: true"}, "16128 bytes, rate 1000, labels map[sex:f]"},
		{[]string{"options: {threshold: 0.5}"}, `16128 bytes, rate 1000, labels map[], mode drwx------, in its folder DIR, args ["/model" "{\"threshold\":0.5}"]`},
		{[]string{"signal: {rate: recorded}"}, "64128 bytes, rate 4000, labels map[]"},
		{[]string{"audio: path"}, "4 bytes, rate 0, labels map[]"},
	} {
		words := []string{"echo", "/model"}
		if strings.HasPrefix(tt.more[0], "options") {
			words = append(words, "{options}")
		}
		file := methodFile(t, words, tt.more...)
		in := testInput("a\"\u2028\xff")
		in.File, in.Samples, in.Rate = wav, make([]float64, 8000), 4000
		in.Labels = pcg.MakeLabels([]string{"sex", "age"}, []string{"f", ""})
		s := newTestSegmenter(t, file)
		_, err := s.Segment(t.Context(), in)
		want := "the program says: " + strings.ReplaceAll(tt.want, "DIR", filepath.Base(filepath.Dir(file)))
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("error\n%v\nwant\n%s", err, want)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	s := newTestSegmenter(t, methodFile(t, []string{"echo"}, "audio: path"))
	defer s.Close()
	if _, err := s.Segment(t.Context(), testInput("a1")); err == nil || !strings.Contains(err.Error(), "use signal in place of audio") {
		t.Errorf("error %v", err)
	}
}
