package ecg

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// printedIntervals are the intervals between R waves, in samples, that SciPy's
// documentation of find_peaks prints for samples 2000 to 4000 of its own ECG.
var printedIntervals = []int{186, 180, 177, 171, 177, 169, 167, 164, 158, 162, 172}

// On a real ECG both detectors, each alone and together, find the R waves that SciPy
// finds as peaks of the wave as it is, none too many and none too few. The filtered
// wave has its tops within 1 sample (2.8 ms) of these, and the intervals differ by no
// more than 1 sample.
func TestPrintedIntervals(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "ecg", "excerpt.json"))
	if err != nil {
		t.Fatal(err)
	}
	var excerpt struct {
		Rate    float64
		Samples []float64
		Peaks   []int
	}
	if err := json.Unmarshal(text, &excerpt); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(differences(excerpt.Peaks), printedIntervals) {
		t.Fatalf("the peaks in the file differ by %v, not as printed", differences(excerpt.Peaks))
	}
	waves, both := detectors(t, excerpt.Samples, excerpt.Rate)
	waves["both"] = both.Agreed
	for name, all := range waves {
		found := slices.DeleteFunc(slices.Clone(all), func(at int) bool { return at < 2000 || at >= 4000 })
		if len(found) != len(excerpt.Peaks) {
			t.Errorf("%s: R waves at %v, peaks at %v", name, found, excerpt.Peaks)
			continue
		}
		for i, at := range found {
			if off := at - excerpt.Peaks[i]; off < -1 || off > 1 {
				t.Errorf("%s: R wave at %d, peak at %d", name, at, excerpt.Peaks[i])
			}
		}
		for i, interval := range differences(found) {
			if off := interval - printedIntervals[i]; off < -1 || off > 1 {
				t.Errorf("%s: intervals %v, printed %v", name, differences(found), printedIntervals)
				break
			}
		}
		t.Logf("%s: %v", name, differences(found))
	}
	t.Logf("over 30 s agreement on %.3f of the beats", both.Agreement())
}

func differences(at []int) []int {
	var d []int
	for i := 1; i < len(at); i++ {
		d = append(d, at[i]-at[i-1])
	}
	return d
}
