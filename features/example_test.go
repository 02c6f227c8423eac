package features_test

import (
	"fmt"
	"math"
	"time"

	"phonocycle/features"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// Two cycles at 75 beats a minute, S1 a tone of 60 Hz and S2 one of 100 Hz.
func ExampleExtractor_Extract() {
	const rate = 1000
	x := make([]float64, 2*rate)
	var intervals []pcg.Interval
	at := 100 * time.Millisecond
	for k, ms := range []int{120, 200, 100, 380, 120, 200, 100, 380, 120} {
		end := at + time.Duration(ms)*time.Millisecond
		iv := pcg.Interval{Start: at, End: end, State: pcg.Cycle[k%4]}
		intervals = append(intervals, iv)
		if iv.State.IsSound() {
			pitch := map[pcg.State]float64{pcg.S1: 60, pcg.S2: 100}[iv.State]
			for i := pcg.ToSamples(at, rate); i < pcg.ToSamples(end, rate); i++ {
				x[i] = 0.2 * math.Sin(2*math.Pi*pitch*float64(i)/rate)
			}
		}
		at = end
	}

	f, err := features.NewExtractor().Extract(features.Input{Raw: x, RawRate: rate, Wave: signal.NewWaveform(x), Intervals: intervals})
	if err != nil {
		fmt.Println(err)
		return
	}
	for k, row := range features.RecordingFeatures() {
		switch row.Name {
		case "heart_rate_per_min", "systole_to_rr_percent_mean", "s1_centroid_hz_mean", "s2_centroid_hz_mean":
			fmt.Printf("%s %.1f %s\n", row.Name, f.Recording[k], row.Unit)
		}
	}
	// Output:
	// heart_rate_per_min 75.0 1/min
	// systole_to_rr_percent_mean 25.0 %
	// s1_centroid_hz_mean 60.0 Hz
	// s2_centroid_hz_mean 100.0 Hz
}
