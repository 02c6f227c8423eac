package features

import (
	"fmt"
	"testing"
	"time"

	"phonocycle/pipeline/signal"
)

// BenchmarkExtract measures a recording of 30 s at 80 beats a minute; the
// metric is seconds of audio a second.
func BenchmarkExtract(b *testing.B) {
	const seconds = 30
	intervals := beats(10*time.Millisecond, 39, [4]time.Duration{120 * time.Millisecond, 190 * time.Millisecond, 95 * time.Millisecond, 345 * time.Millisecond})
	x := noise(seconds*signal.AnalysisRate, 0.1, 1)
	for _, rate := range []int{1000, 2000, 4000, 44100} {
		b.Run(fmt.Sprintf("%dHz", rate), func(b *testing.B) {
			in := Input{Raw: noise(seconds*rate, 0.1, 2), RawRate: rate, Wave: signal.NewWaveform(x), Intervals: intervals}
			e := NewExtractor()
			b.ReportAllocs()
			b.ResetTimer()
			for range b.N {
				in.Wave.Set(x)
				if _, err := e.Extract(in); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(seconds*b.N)/b.Elapsed().Seconds(), "audio_s/s")
		})
	}
}
