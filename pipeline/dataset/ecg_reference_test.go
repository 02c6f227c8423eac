package dataset

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

const ecgRate = 500

// beatsAt returns an ECG of the given length in seconds with R waves at these times.
func beatsAt(seconds float64, times ...float64) []float64 {
	x := make([]float64, int(seconds*ecgRate))
	for i := range x {
		for _, t := range times {
			d := float64(i)/ecgRate - t
			x[i] += math.Exp(-math.Pow(d/0.015, 2)) + 0.2*math.Exp(-math.Pow((d-0.25)/0.06, 2))
		}
	}
	return x
}

// regular returns n times 0.8 s apart, from 0.5 s on.
func regular(n int) (times []float64) {
	for i := range n {
		times = append(times, 0.5+0.8*float64(i))
	}
	return times
}

// rTime returns a time, rounded to the samples of the ECG.
func rTime(t float64) time.Duration {
	return time.Duration(math.Round(t*ecgRate)) * time.Second / ecgRate
}

func TestECGReference(t *testing.T) {
	const delay = 60 * time.Millisecond
	noise := rand.New(rand.NewPCG(4, 4))
	noisy := beatsAt(20)
	for i := range noisy {
		noisy[i] = noise.NormFloat64()
	}
	lost := beatsAt(20, regular(24)...)
	for i := 5 * ecgRate; i < 6*ecgRate; i++ {
		lost[i] = math.NaN()
	}
	for _, tt := range []struct {
		name        string
		x           []float64
		rate        float64
		length      time.Duration
		points      []float64 // R waves
		unannotated [2]float64
		reason      string
	}{
		{name: "regular", x: beatsAt(20, regular(24)...), rate: ecgRate, points: regular(24)},
		{name: "eight beats", x: beatsAt(7, regular(8)...), rate: ecgRate, points: regular(8)},
		{name: "seven beats", x: beatsAt(6, regular(7)...), rate: ecgRate,
			reason: "a.hea: two detectors of R waves agree on 7 beats: at least 8 are needed: not scored"},
		{name: "S1 of the last beats after the end of the recording", x: beatsAt(20, regular(24)...), rate: ecgRate,
			length: rTime(regular(24)[22]) + delay, points: regular(24)[:22]},
		{name: "samples missing from 5 to 6 s", x: lost, rate: ecgRate,
			points: slices.DeleteFunc(regular(24), func(r float64) bool { return r > 5 && r < 6 }), unannotated: [2]float64{4.5, 6.1}},
		{name: "a beat missing", x: beatsAt(20, append(regular(10), regular(24)[11:]...)...), rate: ecgRate,
			points: append(regular(10), regular(24)[11:]...), unannotated: [2]float64{7.7, 9.3}},
		{name: "noise", x: noisy, rate: ecgRate, reason: " %: at least 85 % are needed: not scored"},
		{name: "rate too low", x: noisy, rate: 50, reason: "a.hea: ECG of 50 samples per second: R waves are found at 100 Hz and above: not scored"},
		{name: "nothing", rate: ecgRate, reason: "agree on 0 beats"},
	} {
		points, unannotated, defects := ecgReference("a.hea", tt.x, tt.rate, delay, tt.length)
		if tt.reason != "" {
			if len(defects) != 1 || !defects[0].Excludes || !strings.Contains(defects[0].String(), tt.reason) || points != nil {
				t.Errorf("%s: %v and %d points, want the reason %q", tt.name, defects, len(points), tt.reason)
			}
			continue
		}
		var want []pcg.Point
		for _, r := range tt.points {
			want = append(want, pcg.Point{At: rTime(r) + delay, Sound: pcg.S1})
		}
		var gaps []pcg.Interval
		if tt.unannotated[1] > 0 {
			gaps = []pcg.Interval{{Start: rTime(tt.unannotated[0]) + delay, End: rTime(tt.unannotated[1]) + delay}}
		}
		if len(defects) > 0 || !slices.Equal(points, want) || !slices.Equal(unannotated, gaps) {
			t.Errorf("%s: points\n%v, want\n%v, unannotated %v, want %v; %v", tt.name, points, want, unannotated, gaps, defects)
		}
	}
}

// Of the ECG of CinC 2016 set a at least 65 of 100 are a reference. What makes the
// others none is noise, as seen by eye: an amplifier at its limits, muscle, an
// electrode off the skin, hum, or T waves taller than R waves.
func TestRealECG(t *testing.T) {
	data := os.Getenv("PHONOCYCLE_DATA")
	if data == "" {
		data = filepath.Join("..", "..", "..", "shared", "data")
	}
	files, _ := filepath.Glob(filepath.Join(data, "cinc2016", "training-a", "*.dat"))
	if len(files) < 100 {
		t.Skipf("%d ECG of CinC 2016 in %s: set PHONOCYCLE_DATA to the folder that holds cinc2016", len(files), data)
	}
	usable, beats := 0, 0
	reasons := map[defectType]int{}
	var gaps time.Duration
	for _, file := range files {
		points, unannotated, defects := ecgReference(filepath.Base(file), readECG(t, file), 2000, 60*time.Millisecond, 0)
		for _, g := range unannotated {
			gaps += g.Duration()
		}
		beats += len(points)
		switch {
		case len(defects) == 0:
			usable++
		case strings.Contains(defects[0].Message, " of "):
			reasons[ecgDisputed]++
		default:
			reasons[ecgFewBeats]++
		}
	}
	t.Logf("%d of %d ECG are a reference, with %d beats and %v between beats unannotated; %d disputed, %d with few beats",
		usable, len(files), beats, gaps.Round(time.Second), reasons[ecgDisputed], reasons[ecgFewBeats])
	if usable < 65*len(files)/100 {
		t.Errorf("%d of %d ECG are a reference", usable, len(files))
	}
}

// readECG reads a file of 16-bit samples.
func readECG(t *testing.T, file string) []float64 {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, len(data)/2)
	for i := range x {
		x[i] = float64(int16(binary.LittleEndian.Uint16(data[2*i:])))
	}
	return x
}
