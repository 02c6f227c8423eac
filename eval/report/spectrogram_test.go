package report

import (
	"encoding/json"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// The levels are those of SciPy, with its times and frequencies.
func TestSpectrogramAgainstSciPy(t *testing.T) {
	content, err := os.ReadFile(filepath.Join("..", "..", "testdata", "report", "spectrogram.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Rate               int
		Samples            []float64
		Times, Frequencies []float64
		Levels             [][]float64
	}
	if err := json.Unmarshal(content, &want); err != nil {
		t.Fatal(err)
	}
	s := newSpectrogram(want.Samples, want.Rate)
	if len(s.levels) != len(want.Levels) || len(want.Levels) < 10 {
		t.Fatalf("%d columns, want %d", len(s.levels), len(want.Levels))
	}
	for m, column := range s.levels {
		if at := s.at(m).Seconds(); math.Abs(at-want.Times[m]) > 1e-9 {
			t.Errorf("column %d stands at %v s, want %v", m, at, want.Times[m])
		}
		if len(column) != len(want.Frequencies) {
			t.Fatalf("%d rows, want %d", len(column), len(want.Frequencies))
		}
		for k, level := range column {
			if f := float64(k) * s.step; math.Abs(f-want.Frequencies[k]) > 1e-9 {
				t.Errorf("row %d stands at %v Hz, want %v", k, f, want.Frequencies[k])
			}
			if math.Abs(level-want.Levels[m][k]) > 1e-3 {
				t.Errorf("column %d, row %d: %v dB, want %v", m, k, level, want.Levels[m][k])
			}
		}
	}
}

// Lightness falls from each colour to the next, in light that the eye sees.
func TestSpectrogramColoursAreOrdered(t *testing.T) {
	last := math.Inf(1)
	for i, c := range spectrogramColours {
		y := color.GrayModel.Convert(c).(color.Gray).Y
		if float64(y) >= last {
			t.Errorf("colour %d is not darker than that before it: %d and %v", i, y, last)
		}
		last = float64(y)
	}
	if n := len(spectrogramColours); n != 32 {
		t.Errorf("%d colours", n)
	}
}

// A tone is loudest in the row of its frequency, and cells more than the range below
// the loudest are the lightest.
func TestSpectrogramImage(t *testing.T) {
	x := make([]float64, 4000)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 250 * float64(i) / 4000)
	}
	v := View{Sound: Sound{Wave: x, WaveRate: 4000}, To: time.Second}
	s := newSpectrogram(x, 4000)
	img := s.image(v.loudest(s))
	rows := img.Bounds().Dy()
	darkest, lightest := spectrogramColours[len(spectrogramColours)-1], spectrogramColours[0]
	if at := img.At(20, rows-1-32); at != darkest { // 32 rows of 7.8125 Hz
		t.Errorf("at 250 Hz: %v, want %v", at, darkest)
	}
	if at := img.At(20, rows-1-5); at != lightest {
		t.Errorf("at 39 Hz: %v, want %v", at, lightest)
	}
}

// Noise outside annotated time does not change the scale of the spectrogram.
func TestSpectrogramScale(t *testing.T) {
	v := exampleView("rec")
	s := newSpectrogram(v.Wave, v.WaveRate)
	want := v.loudest(s)
	for i := range 800 { // the first annotation begins at 0.3 s
		v.Wave[i] = 100 * math.Sin(float64(i))
	}
	if got := v.loudest(newSpectrogram(v.Wave, v.WaveRate)); got != want {
		t.Errorf("the loudest level is %v, with noise before the annotation %v", want, got)
	}
	v.Reference = pcg.Reference{}
	if got := v.loudest(newSpectrogram(v.Wave, v.WaveRate)); got <= want {
		t.Errorf("without annotation the loudest level is %v, want that of the noise", got)
	}
}

// A view with sound shows its spectrogram once, as an image in the page that fills its
// strip. Silence and a sound shorter than the window have none.
func TestViewsShowSpectrograms(t *testing.T) {
	v := exampleView("rec")
	drawn := string(v.figure().svg(""))
	images := regexp.MustCompile(`<image [^>]*>`).FindAllString(drawn, -1)
	if len(images) != 1 || !strings.Contains(images[0], `preserveAspectRatio="none"`) || !strings.Contains(images[0], `"data:image/png;base64,iVBORw0KGgo`) {
		t.Fatalf("images %.200q", images)
	}
	if n := len(images[0]); n > 30<<10 {
		t.Errorf("the image of 8 s has %d bytes", n)
	}
	if !strings.Contains(drawn, "0 to 500 Hz") {
		t.Error("the strip of the spectrogram has no name")
	}
	clear(v.Wave)
	if drawn := string(v.figure().svg("")); strings.Contains(drawn, "<image ") {
		t.Error("silence has a spectrogram")
	}
	v.Wave = v.Wave[:100]
	if drawn := string(v.figure().svg("")); strings.Contains(drawn, "<image ") {
		t.Error("25 ms have a spectrogram")
	}
}
