package dataset_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
)

// repository returns the folder that holds go.mod.
func repository(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = up
	}
}

// openReal opens a data set of real recordings, which are not in the
// repository: PHONOCYCLE_DATA says where they are.
func openReal(t testing.TB, name string) *dataset.Set {
	t.Helper()
	data := os.Getenv("PHONOCYCLE_DATA")
	if data == "" {
		data = filepath.Join(repository(t), "..", "shared", "data")
	}
	root := filepath.Join(data, name)
	if _, err := os.Stat(root); err != nil {
		t.Skipf("real recordings of %s are not here; set PHONOCYCLE_DATA to their folder", name)
	}
	layout, err := dataset.LoadLayout(name)
	if err != nil {
		t.Fatal(err)
	}
	s, err := dataset.Open(root, layout)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// probed holds what was decoded once, for all tests.
var probed = map[string]struct {
	rate   int
	length time.Duration
}{}

func prober() dataset.Prober {
	var d audio.Decoder
	return func(s *dataset.Set, path string) (int, time.Duration, error) {
		known, ok := probed[s.Root+"/"+path]
		if ok {
			return known.rate, known.length, nil
		}
		file, err := s.OpenFile(path)
		if err != nil {
			return 0, 0, err
		}
		defer file.Close()
		clip, err := d.Decode(file)
		if err != nil {
			return 0, 0, err
		}
		known.rate, known.length = clip.Rate, clip.Duration()
		probed[s.Root+"/"+path] = known
		return known.rate, known.length, nil
	}
}

func scanReal(t testing.TB, name string) (*dataset.Set, *dataset.Inventory) {
	t.Helper()
	s := openReal(t, name)
	inv, err := s.Scan(t.Context(), prober(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return s, inv
}

// defectsOf lists the places of one kind of defect, without the folder.
func defectsOf(inv *dataset.Inventory, kind dataset.Kind) []string {
	var at []string
	for i := range inv.Defects {
		if d := &inv.Defects[i]; d.Kind == kind {
			at = append(at, filepath.Base(d.Place()))
		}
	}
	slices.Sort(at)
	return at
}

// circorCounts are check values counted apart from this package by
// testdata/dataset/circor_counts.py.
type circorCounts struct {
	Recordings          int            `json:"recordings"`
	People              int            `json:"people"`
	Pairs               int            `json:"pairs"`
	WithoutAnnotation   []string       `json:"without_annotation"`
	WithoutRecording    []string       `json:"without_recording"`
	Murmur              map[string]int `json:"murmur_recordings"`
	S1                  int            `json:"s1"`
	S2                  int            `json:"s2"`
	AnnotatedSeconds    float64        `json:"annotated_s"`
	HeartRateOf         int            `json:"heart_rate_recordings"`
	HeartRates          [11]float64    `json:"heart_rate_min_deciles_max"`
	NoLength            []string       `json:"no_length"`
	PastEnd             []string       `json:"past_end"`
	Gap, Overlap, Order []string
}

func TestCircorAgainstCounts(t *testing.T) {
	s, inv := scanReal(t, "circor")
	text, err := os.ReadFile(filepath.Join(repository(t), "testdata", "dataset", "circor_counts.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want circorCounts
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	if inv.Recordings != want.Recordings {
		t.Skipf("%d recordings; the check values are of the %d of the development part", inv.Recordings, want.Recordings)
	}
	if inv.People != want.People || inv.S1 != want.S1 || inv.S2 != want.S2 || inv.Annotated != want.Recordings-1 || inv.Unusable != 0 {
		t.Errorf("people %d, S1 %d, S2 %d, annotated %d, unreadable %d", inv.People, inv.S1, inv.S2, inv.Annotated, inv.Unusable)
	}
	if math.Abs(inv.AnnotatedSeconds-want.AnnotatedSeconds) > 1e-6 {
		t.Errorf("annotated %.9f s, want %.9f", inv.AnnotatedSeconds, want.AnnotatedSeconds)
	}
	for kind, places := range map[dataset.Kind][]string{
		"recording without annotation": {want.WithoutAnnotation[0] + ".wav"},
		"annotation without recording": {want.WithoutRecording[0] + ".tsv"},
		"row of zero length":           want.NoLength,
		"time after the recording":     want.PastEnd,
		dataset.KindGap:                want.Gap,
		"overlapping rows":             want.Overlap,
		dataset.KindOrder:              want.Order,
	} {
		if diff := cmp.Diff(slices.Sorted(slices.Values(places)), defectsOf(inv, kind)); diff != "" {
			t.Errorf("%s:\n%s", kind, diff)
		}
	}
	if got := len(defectsOf(inv, "person with two ids")); got != want.Pairs {
		t.Errorf("%d people with two ids, want %d", got, want.Pairs)
	}
	checkMurmur(t, inv, want.Murmur)
	checkHeartRates(t, inv.HeartRate, &want)
	checkKinds(t, inv)
	checkPeople(t, s)
}

func checkMurmur(t *testing.T, inv *dataset.Inventory, want map[string]int) {
	i := slices.IndexFunc(inv.Labels, func(l dataset.LabelSummary) bool { return l.Name == "murmur" })
	got := map[string]int{}
	for _, v := range inv.Labels[i].Values {
		got[v.Value] = v.Recordings
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("murmur:\n%s", diff)
	}
}

func checkHeartRates(t *testing.T, got *dataset.RateSummary, want *circorCounts) {
	all := append(append([]float64{got.Min}, got.Deciles[:]...), got.Max)
	for i := range all {
		if math.Abs(all[i]-want.HeartRates[i]) > 1e-5 {
			t.Errorf("heart rates %v, want %v", all, want.HeartRates)
			break
		}
	}
	if got.Recordings != want.HeartRateOf {
		t.Errorf("heart rates of %d recordings, want %d", got.Recordings, want.HeartRateOf)
	}
}

// checkKinds makes sure that nothing beyond what was counted apart is reported.
func checkKinds(t *testing.T, inv *dataset.Inventory) {
	known := []dataset.Kind{
		"recording without annotation", "annotation without recording", "row of zero length", "time after the recording", dataset.KindGap,
		"overlapping rows", dataset.KindOrder, "person with two ids", "empty annotation",
	}
	for _, c := range inv.DefectCounts {
		if !slices.Contains(known, c.Kind) {
			t.Errorf("%d defects of kind %s", c.Count, c.Kind)
		}
	}
	if got := defectsOf(inv, "empty annotation"); !slices.Equal(got, []string{"50782_MV.tsv"}) {
		t.Errorf("annotations that say nothing: %v", got)
	}
}

func checkPeople(t *testing.T, s *dataset.Set) {
	for i := range s.Recordings {
		r := &s.Recordings[i]
		patient, _, _ := strings.Cut(r.ID, "_")
		own, err := strconv.Atoi(patient)
		name, err2 := strconv.Atoi(r.Person)
		if err != nil || err2 != nil || name > own {
			t.Errorf("recording %s is of person %q", r.ID, r.Person)
		}
	}
}

// Every usable reference of the real recordings keeps what pcg.Reference
// promises, and repairs are listed.
func TestRealReferences(t *testing.T) {
	for _, name := range []string{"circor", "pascal"} {
		s := openReal(t, name)
		probe := prober()
		for i := range s.Recordings {
			rec := &s.Recordings[i]
			if rec.Reference == "" {
				continue
			}
			rate, length, err := probe(s, rec.Audio)
			if err != nil {
				t.Fatal(err)
			}
			ref, _, err := s.Reference(rec, rate, length)
			if err != nil {
				t.Error(err)
				continue
			}
			var last time.Duration
			for _, iv := range ref.Intervals {
				if iv.Start < last || iv.End <= iv.Start || iv.End > length || iv.State == pcg.Unannotated {
					t.Errorf("%s: %v after %v", rec.ID, iv, last)
				}
				last = iv.End
			}
			last = -1
			for _, p := range ref.Points {
				if p.At <= last || p.At >= length || !p.Sound.IsSound() {
					t.Errorf("%s: %v after %v", rec.ID, p, last)
				}
				last = p.At
			}
		}
	}
}

// The one file of set A in which two times were exchanged is read so that all
// its sounds alternate.
func TestPascalReal(t *testing.T) {
	s, inv := scanReal(t, "pascal")
	if inv.Recordings != 26 {
		t.Skipf("%d recordings; the check values are of the 26 of the development part", inv.Recordings)
	}
	if inv.People != 26 || inv.PersonUnknown != 26 || inv.Annotated != 10 || inv.S1 != 104 || inv.S2 != 104 {
		t.Errorf("inventory %+v", inv)
	}
	want := []string{"set_a.csv:28", "set_a.csv:29", "set_a.csv:30", "set_a.csv:31"}
	if diff := cmp.Diff(want, defectsOf(inv, "row without recording")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"set_a_timing.csv:96"}, defectsOf(inv, "exchanged points")); diff != "" {
		t.Error(diff)
	}
	if len(inv.Defects) != 5 {
		t.Errorf("%d defects, want 5", len(inv.Defects))
	}
	i := slices.IndexFunc(s.Recordings, func(r pcg.Recording) bool { return r.ID == "normal__201105011626" })
	ref, _, err := s.Reference(&s.Recordings[i], 44100, 9*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	for k := 1; k < len(ref.Points); k++ {
		if ref.Points[k].Sound == ref.Points[k-1].Sound {
			t.Errorf("point %d: %v follows %v", k, ref.Points[k], ref.Points[k-1])
		}
	}
	if got, want := ref.Points[15].At, pcg.FromSamples(155833, 44100); got != want || ref.Points[15].Sound != pcg.S2 {
		t.Errorf("point 15 is %v, want S2 at %v", ref.Points[15], want)
	}
}

func TestCinc2016Real(t *testing.T) {
	_, inv := scanReal(t, "cinc2016")
	if inv.Recordings != 150 {
		t.Skipf("%d recordings; the check values are of the 150 of the development part", inv.Recordings)
	}
	if len(inv.Defects) != 0 || inv.Annotations != 0 || len(inv.Rates) != 1 || inv.Rates[0] != (dataset.RateCount{Rate: 2000, Recordings: 150}) {
		t.Errorf("inventory %+v", inv)
	}
	want := map[string]string{"part": "training-a 100, training-b 10, training-c 10, training-d 10, training-e 10, training-f 10",
		"label": "abnormal 94, normal 56", "quality": "good 120, unsure 30"}
	for _, l := range inv.Labels {
		var parts []string
		for _, v := range l.Values {
			parts = append(parts, v.Value+" "+strconv.Itoa(v.Recordings))
		}
		if got := strings.Join(parts, ", "); got != want[l.Name] || l.Missing != 0 {
			t.Errorf("%s: %s, want %s", l.Name, got, want[l.Name])
		}
	}
}

func BenchmarkOpenCircor(b *testing.B) {
	s := openReal(b, "circor")
	for b.Loop() {
		again, err := dataset.Open(s.Root, s.Layout)
		if err != nil {
			b.Fatal(err)
		}
		again.Close()
	}
}

func BenchmarkReferencesCircor(b *testing.B) {
	s := openReal(b, "circor")
	for b.Loop() {
		for i := range s.Recordings {
			if rec := &s.Recordings[i]; rec.Reference != "" {
				if _, _, err := s.Reference(rec, 4000, 0); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
}
