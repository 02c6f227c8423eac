package audio

import (
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// dataRoot returns the folder of the open data sets, which are not part of the
// repository, or skips.
func dataRoot(t *testing.T) string {
	t.Helper()
	root := os.Getenv("PHONOCYCLE_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared", "data")
	}
	if _, err := os.Stat(root); err != nil {
		t.Skipf("no recordings: %v (set PHONOCYCLE_DATA to the folder of the data sets)", err)
	}
	return root
}

// largestGain returns the largest value that a plan can make of a signal
// within ±1: the largest sum of magnitudes in a row.
func largestGain(p *plan) float64 {
	most := 0.0
	for ph := range p.phases + 1 {
		sum := 0.0
		for _, h := range p.row(ph) {
			sum += math.Abs(h)
		}
		most = max(most, sum)
	}
	return most
}

// TestOpenDataSets decodes every recording of the open data sets and resamples
// its first seconds. Their descriptions give the format: CirCor DigiScope 4 kHz (Oliveira et
// al. 2022, doi 10.1109/JBHI.2021.3137048), PhysioNet/CinC Challenge 2016 2 kHz
// (Liu et al. 2016, doi 10.1088/0967-3334/37/12/2181), both 16-bit mono;
// Classifying Heart Sounds Challenge set A 44.1 kHz (Bentley et al. 2011).
func TestOpenDataSets(t *testing.T) {
	root := dataRoot(t)
	for _, set := range []struct {
		folder string
		rate   int
	}{{"circor", 4000}, {"pascal", 44100}, {"cinc2016", 2000}} {
		t.Run(set.folder, func(t *testing.T) {
			var d Decoder
			var y []float64
			r := NewResampler(analysisRate)
			most := largestGain(newPlan(set.rate, analysisRate))
			count, seconds := 0, 0.0
			folder := filepath.Join(root, set.folder)
			if _, err := os.Stat(folder); err != nil {
				t.Skipf("no recordings: %v", err)
			}
			err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
				if err != nil {
					return err
				}
				if e.IsDir() || !strings.EqualFold(filepath.Ext(path), ".wav") {
					return nil
				}
				c, err := d.DecodeFile(path)
				if err != nil {
					t.Error(err)
					return nil
				}
				count++
				seconds += c.Duration().Seconds()
				if c.Rate != set.rate || c.Channels != 1 || c.BitsPerSample != 16 {
					t.Errorf("%s: %d Hz, %d channels, %s; the data set is described as %d Hz, mono, 16 bits", path, c.Rate, c.Channels, c.Encoding, set.rate)
				}
				for _, note := range c.Repairs {
					t.Logf("%s: %s", path, note)
				}
				part := c.Samples[:min(len(c.Samples), 4*c.Rate)]
				y = r.Resample(y, part, c.Rate)
				if want := (len(part)*analysisRate + c.Rate - 1) / c.Rate; len(y) != want {
					t.Errorf("%s: %d samples at the analysis rate, want %d", path, len(y), want)
				}
				for k, v := range y {
					if !(math.Abs(v) <= most) {
						t.Errorf("%s: sample %d after resampling is %v, beyond ±%v", path, k, v, most)
						break
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d recordings, %.0f s; the filter can raise a peak to %.3f", count, seconds, most)
			if count == 0 {
				t.Errorf("no recordings in %s", folder)
			}
		})
	}
}
