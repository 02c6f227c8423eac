package features

import (
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"testing"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// openCircor opens the CirCor recordings, or skips the test without them.
func openCircor(t *testing.T) *dataset.Set {
	t.Helper()
	root := os.Getenv("PHONOCYCLE_DATA")
	if root == "" {
		root = "../../shared/data"
	}
	root = filepath.Join(root, "circor")
	if _, err := os.Stat(root); err != nil {
		t.Skipf("no recordings: %v (set PHONOCYCLE_DATA to the folder of the data sets)", err)
	}
	layout, err := dataset.LoadLayout("circor")
	if err != nil {
		t.Fatal(err)
	}
	set, err := dataset.Open(root, layout)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { set.Close() })
	return set
}

// eachReference calls do for every n-th recording that has a reference.
func eachReference(t *testing.T, set *dataset.Set, n int, do func(rec *pcg.Recording, in Input)) {
	t.Helper()
	var decoder audio.Decoder
	resampler := audio.NewResampler(signal.AnalysisRate)
	for i := 0; i < len(set.Recordings); i += n {
		rec := &set.Recordings[i]
		clip, err := decoder.DecodeFile(path.Join(set.Root, rec.Audio))
		if err != nil {
			t.Errorf("recording %s: %v", rec.ID, err)
			continue
		}
		ref, _, err := set.Reference(rec, clip.Rate, clip.Duration())
		if err != nil {
			continue // the data set has some without
		}
		do(rec, Input{
			Raw: clip.Samples, RawRate: clip.Rate, Intervals: ref.Intervals,
			Wave: signal.NewWaveform(resampler.Resample(nil, clip.Samples, clip.Rate)),
		})
	}
}

// TestRecordings runs the whole catalogue over recordings of children with
// their reference annotation. Every value lies in the range of its row, and the
// medians over recordings are where the literature has them: S1 and S2 of
// 70 to 150 and 60 to 120 ms (common in engineering papers, from memory), both
// with most of their power below 150 Hz and S2 higher pitched than S1
// (BioMed Eng OnLine 2020, 19), and the frame-based rhythm agreeing with the
// annotators about the beat.
func TestRecordings(t *testing.T) {
	set := openCircor(t)
	e := NewExtractor()
	column := map[string][]float64{}
	agree, count := 0, 0
	eachReference(t, set, 20, func(rec *pcg.Recording, in Input) {
		f, err := e.Extract(in)
		if err != nil {
			t.Errorf("recording %s: %v", rec.ID, err)
			return
		}
		checkRanges(t, rec.ID, f)
		for k, row := range recordingFeatures {
			if v := f.Recording[k]; !math.IsNaN(v) {
				column[row.Name] = append(column[row.Name], v)
			}
		}
		period, rr := value(t, f, "envelope_period_s"), value(t, f, "rr_interval_s_median")
		if !math.IsNaN(period) && !math.IsNaN(rr) {
			count++
			if beats := period / rr; math.Abs(beats-math.Round(beats)) < 0.1 {
				agree++
			}
		}
	})
	middle := func(name string) float64 {
		slices.Sort(column[name])
		return median(column[name])
	}
	for _, c := range []struct {
		name      string
		low, high float64
	}{
		{"s1_duration_s_median", 0.070, 0.150},
		{"s2_duration_s_median", 0.060, 0.120},
		{"heart_rate_per_min", 75, 130},
		{"s1_median_frequency_hz_median", 25, 150},
		{"s2_median_frequency_hz_median", 25, 150},
		{"sound_to_pause_db", 3, 25},
	} {
		if got := middle(c.name); !(got >= c.low && got <= c.high) {
			t.Errorf("median over recordings of %s is %.4g, want %v to %v", c.name, got, c.low, c.high)
		}
	}
	if a, b := middle("s1_centroid_hz_median"), middle("s2_centroid_hz_median"); !(a < b) {
		t.Errorf("median centroid of S1 %.1f Hz, of S2 %.1f Hz", a, b)
	}
	if count < 20 || agree < count/2 {
		t.Errorf("the rhythm is a whole number of beats in %d of %d recordings", agree, count)
	}
}
