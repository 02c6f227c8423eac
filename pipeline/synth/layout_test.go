package synth_test

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/synth"
)

// The demonstration's folder is read by its own layout with its people, labels
// and truth, and by the plain layout too. The defects are those intended: a person
// who was registered twice, and a recording without annotation. Labels arrive as they were
// written.
func TestDemoThroughLayouts(t *testing.T) {
	dir := t.TempDir()
	if err := synth.WriteDemo(t.Context(), dir, 1); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{filepath.Join(dir, "screening.yaml"), "plain"} {
		layout, err := dataset.LoadLayout(name)
		if err != nil {
			t.Fatal(err)
		}
		set, err := dataset.Open(dir, layout)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range set.Defects {
			twice := d.File == "people.csv" && strings.Contains(d.Message, "af07") && strings.Contains(d.Message, "af13")
			if !twice && d.File != "recordings/af12_mitral.wav" {
				t.Errorf("%s: defect %+v", name, d)
			}
		}
		people := map[string]int{}
		for i := range set.Recordings {
			people[set.Recordings[i].Person]++
		}
		if len(people) != 12 || people["af07"] != 3 {
			t.Errorf("%s: people %v", name, people)
		}
		for i := range set.Recordings {
			checkRecording(t, dir, set, &set.Recordings[i])
		}
		if name != "plain" {
			checkLabels(t, set)
		}
	}
}

func checkRecording(t *testing.T, dir string, set *dataset.Set, rec *pcg.Recording) {
	t.Helper()
	if rec.Site == "" || rec.Label("condition") == "" && rec.DataSet != "plain" {
		t.Errorf("%s: site %q, labels %v", rec.ID, rec.Site, rec.Labels)
	}
	var decoder audio.Decoder
	clip, err := decoder.DecodeFile(filepath.Join(dir, filepath.FromSlash(rec.Audio)))
	if err != nil || rec.Reference == "" {
		return
	}
	ref, _, err := set.Reference(rec, clip.Rate, clip.Duration())
	if err != nil {
		t.Errorf("%s: %v", rec.ID, err)
		return
	}
	if len(ref.Repairs) > 0 {
		t.Errorf("%s: repairs %v", rec.ID, ref.Repairs)
	}
	s := pcg.Segmentation{Intervals: ref.Intervals}
	if err := s.Check(clip.Duration()); err != nil {
		t.Errorf("%s: %v", rec.ID, err)
	}
}

func checkLabels(t *testing.T, set *dataset.Set) {
	t.Helper()
	got := map[string]string{}
	for i := range set.Recordings {
		if r := &set.Recordings[i]; r.ID == "af04_aortic" {
			for l := range r.Labels.All() {
				got[l.Name] = l.Value
			}
		}
	}
	want := map[string]string{
		"age_years": "71", "age_group": "older adult", "sex": "male", "heart_rate_bpm": "66", "rhythm": "regular",
		"murmur": "present", "murmur_state": "systole", "murmur_shape": "crescendo-decrescendo",
		"condition": "murmur", "noise": "pink", "snr_db": "26", "clicks_per_min": "0", "clip_level": "", "inverted": "false",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("labels differ:\n%s", diff)
	}
}
