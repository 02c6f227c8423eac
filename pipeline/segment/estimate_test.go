package segment

import (
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

func TestAnnotatedFrames(t *testing.T) {
	ms := func(from, to int, s pcg.State) pcg.Interval {
		return pcg.Interval{Start: time.Duration(from) * time.Millisecond, End: time.Duration(to) * time.Millisecond, State: s}
	}
	// Frames have their middles at 10, 30, 50, … ms; an interval holds its start
	// and not its end.
	got := maps.Collect(annotatedFrames(7, []pcg.Interval{ms(10, 30, pcg.S1), ms(30, 50, pcg.Systole), ms(60, 61, pcg.S2), ms(69, 91, pcg.Diastole)}))
	want := map[int]pcg.State{0: pcg.S1, 1: pcg.Systole, 3: pcg.Diastole, 4: pcg.Diastole}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("states of frames (-want +got):\n%s", diff)
	}
}

// dataFolder returns a folder of the open recordings, or skips the test.
func dataFolder(t *testing.T, name string) string {
	t.Helper()
	root := os.Getenv("PHONOCYCLE_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared", "data")
	}
	folder := filepath.Join(root, name)
	if _, err := os.Stat(folder); err != nil {
		t.Skipf("no recordings in %s: set PHONOCYCLE_DATA to the folder that holds %s", folder, name)
	}
	return folder
}

// circorExamples yields every step-th annotated recording of the CirCor data at
// hand.
func circorExamples(t *testing.T, step int) func(func(Example, error) bool) {
	t.Helper()
	folder := dataFolder(t, "circor")
	layout, err := dataset.LoadLayout("circor")
	if err != nil {
		t.Fatal(err)
	}
	set, err := dataset.Open(folder, layout)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { set.Close() })
	return func(yield func(Example, error) bool) {
		var decoder audio.Decoder
		resampler := audio.NewResampler(signal.AnalysisRate)
		for i := 0; i < len(set.Recordings); i += step {
			r := &set.Recordings[i]
			clip, err := decoder.DecodeFile(filepath.Join(folder, filepath.FromSlash(r.Audio)))
			if err != nil {
				t.Errorf("recording %s: %v", r.ID, err)
				continue
			}
			reference, _, err := set.Reference(r, clip.Rate, clip.Duration())
			if err != nil {
				continue // one recording has none
			}
			x := resampler.Resample(nil, clip.Samples, clip.Rate)
			if !yield(Example{Source: Source{Recording: r.ID}, Person: r.Person, X: x, Reference: reference}, nil) {
				return
			}
		}
	}
}

// The emissions of the embedded model of duration-hmm are those of the CirCor
// references (Oliveira et al. 2022, doi 10.1109/JBHI.2021.3137048), estimated on
// all recordings at hand; a tenth of them must agree to the scatter of so few.
func TestEmissionsOfCirCor(t *testing.T) {
	got, err := estimateEnvelopeDistributions(circorExamples(t, 10))
	if err != nil {
		t.Fatal(err)
	}
	want := newSegmenter(t, durationHMM).(*durationSegmenter).model.Emission.states()
	for j, g := range got.states() {
		if math.Abs(g.Mean-want[j].Mean) > 0.1 || math.Abs(g.SD-want[j].SD) > 0.1 {
			t.Errorf("%v: mean %.3f, SD %.3f; the model has %.3f and %.3f", pcg.Cycle[j], g.Mean, g.SD, want[j].Mean, want[j].SD)
		}
	}
}

func TestEnvelopeLawsNeedAllStates(t *testing.T) {
	r := heart(t, 60, 1, 3*time.Second)
	var sounds []pcg.Interval
	for _, iv := range r.Truth {
		if iv.State.IsSound() {
			sounds = append(sounds, iv)
		}
	}
	_, err := estimateEnvelopeDistributions(func(yield func(Example, error) bool) {
		yield(Example{X: r.Samples, Reference: pcg.Reference{Intervals: sounds}}, nil)
	})
	if err == nil {
		t.Error("laws of silences were estimated without any")
	}
	if _, err := estimateEnvelopeDistributions(func(yield func(Example, error) bool) { yield(Example{}, fs.ErrPermission) }); err == nil {
		t.Error("an error while reading is lost")
	}
}
