package dataset

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

func TestHeartRate(t *testing.T) {
	const ms = time.Millisecond
	// cycles appends heart cycles of the given lengths, a fifth of each S1, and
	// so on.
	cycles := func(iv []pcg.Interval, at time.Duration, lengths ...time.Duration) []pcg.Interval {
		for _, l := range lengths {
			for i, s := range pcg.Cycle {
				end := at + []time.Duration{l / 5, l / 5, l / 5, 2 * l / 5}[i]
				iv = append(iv, pcg.Interval{Start: at, End: end, State: s})
				at = end
			}
		}
		return append(iv, pcg.Interval{Start: at, End: at + 100*ms, State: pcg.S1})
	}
	gap := cycles(nil, 100*ms, 1000*ms, 500*ms)
	for i := 6; i < len(gap); i++ { // within the second cycle
		gap[i].Start += 31 * ms
		gap[i].End += 31 * ms
	}
	for _, c := range []struct {
		name string
		ref  pcg.Reference
		want float64
	}{
		{"one cycle", pcg.Reference{Kind: pcg.IntervalReference, Intervals: cycles(nil, 100*ms, 1000*ms)}, 60},
		{"median of three", pcg.Reference{Kind: pcg.IntervalReference, Intervals: cycles(nil, 100*ms, 1000*ms, 500*ms, 600*ms)}, 100},
		{"median of two", pcg.Reference{Kind: pcg.IntervalReference, Intervals: cycles(nil, 100*ms, 1000*ms, 500*ms)}, 80},
		{"the first begins before the recording", pcg.Reference{Kind: pcg.IntervalReference, Intervals: cycles(nil, 0, 1000*ms, 500*ms)}, 120},
		{"a gap", pcg.Reference{Kind: pcg.IntervalReference, Intervals: gap}, 60},
		{"no whole cycle", pcg.Reference{Kind: pcg.IntervalReference, Intervals: cycles(nil, 0, 1000*ms)}, math.NaN()},
		{"nothing", pcg.Reference{}, math.NaN()},
		{"points", pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{
			{At: 0, Sound: pcg.S1}, {At: 300 * ms, Sound: pcg.S2}, {At: 800 * ms, Sound: pcg.S1}, {At: 1000 * ms, Sound: pcg.S1}}}, 75},
		{"S1 alone, one beat unknown", pcg.Reference{Kind: pcg.ECGReference, Unannotated: []pcg.Interval{{Start: 1600 * ms, End: 3200 * ms}}, Points: []pcg.Point{
			{At: 0, Sound: pcg.S1}, {At: 800 * ms, Sound: pcg.S1}, {At: 1600 * ms, Sound: pcg.S1}, {At: 3200 * ms, Sound: pcg.S1}}}, 75},
		{"points without S2", pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{{At: 0, Sound: pcg.S1}, {At: 800 * ms, Sound: pcg.S1}}}, math.NaN()},
	} {
		got, ok := HeartRate(&c.ref)
		if ok == math.IsNaN(c.want) || ok && math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, %v; want %v", c.name, got, ok, c.want)
		}
	}
}

func untidy(t testing.TB) string {
	return plant(t, map[string]string{
		"recordings.csv": "recording,person,site,label\na,1,mitral,good\nb,1,aortic,good\nc,2,mitral,poor\n",
		"a.wav":          "8000 5", "a.csv": "1,1.1,S1\n1.1,1.3,2\n1.29,1.4,3\n1.4,2,4\n2,2.1,1\n",
		"b.wav": "4000 7.5", "b.tsv": "1\t2\t1\n2\t1\t2\n",
		"c.wav": "broken",
	})
}

func TestWriteText(t *testing.T) {
	s := openLayout(t, untidy(t), "plain")
	steps := 0
	inv, err := s.Scan(t.Context(), fakeProbe, func() { steps++ })
	if err != nil || steps != 3 {
		t.Fatal(steps, err)
	}
	const want = `Folder of WAV files, version not stated (layout plain)
cite: not stated
licence: not stated

recordings      3, of which 1 cannot be used
length          0.00 h, 5.0 to 7.5 s each
people          2
at 4000 Hz      1
at 8000 Hz      1
reference       states
annotations     2, of which 1 can be used
annotated time  0.00 h, 2 S1 and 1 S2
heart rate      60 to 60 per minute in 1 recordings; 10th, 20th ... 90th percentile 60 60 60 60 60 60 60 60 60

labels, in recordings (people):
  site   aortic 1 (1), mitral 2 (2)
  label  good 2 (1), poor 1 (1)

note: Without recordings.csv each recording counts as its own person; name the people there before splitting the recordings into parts for fitting and for scoring.

defects: 3
end before start: 1
  b.tsv:2: end 1 s before start 2 s: not scored
overlapping rows: 1
  a.csv:3: starts 10 ms before the row of line 2 ends at 1.3 s: the earlier row ends where this one starts
unreadable audio: 1
  c.wav: not a WAV file: the recording fails in a run
`
	var got strings.Builder
	if err := inv.WriteText(&got, -1); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got.String()); diff != "" {
		t.Error(diff)
	}
	got.Reset()
	if err := inv.WriteText(&got, 0); err != nil || strings.Contains(got.String(), "b.tsv") || !strings.Contains(got.String(), "  … and 1 more: if most files have it, correct columns in the layout\n") {
		t.Errorf("with no defect listed: %v\n%s", err, got.String())
	}
	if err := inv.WriteText(failingWriter{}, -1); !errors.Is(err, errFull) {
		t.Errorf("on a full disk: %v", err)
	}
}

var errFull = errors.New("disk full")

type failingWriter struct{}

func (failingWriter) Write([]byte) (int, error) { return 0, errFull }

// Two scans of two openings give the same bytes.
func TestScanIsDeterministic(t *testing.T) {
	root := untidy(t)
	var first []byte
	for i := range 5 {
		s := openLayout(t, root, "plain")
		inv, err := s.Scan(t.Context(), fakeProbe, nil)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(inv)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = text
		} else if !bytes.Equal(first, text) {
			t.Fatalf("scan %d differs:\n%s", i, cmp.Diff(string(first), string(text)))
		}
	}
	if !bytes.Contains(first, []byte(`{"file":"b.tsv","line":2,"kind":"end before start","recording":"b","message":"end 1 s before start 2 s","action":"not scored","excludes":true}`)) {
		t.Errorf("JSON of the defect differs: %s", first)
	}
}

// A recording of less than 1000 Hz cannot fill the band up to 400 Hz: scan names
// each, and no other.
func TestScanNamesLowRates(t *testing.T) {
	s := openLayout(t, untidy(t), "plain")
	rates := map[string]int{}
	inv, err := s.Scan(t.Context(), func(s *Set, path string) (int, time.Duration, error) {
		_, length, err := fakeProbe(s, path)
		rates[path] = []int{1000, 999}[len(rates)%2]
		return rates[path], length, err
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	low := map[string]bool{}
	for _, d := range inv.Defects {
		if d.Kind == rateLow.kind {
			low[d.File] = true
		}
	}
	if len(rates) < 2 {
		t.Fatalf("%d recordings, want two or more", len(rates))
	}
	for path, rate := range rates {
		if _, _, err := fakeProbe(s, path); err == nil && low[path] != (rate < 1000) {
			t.Errorf("%s of %d Hz: named as too low is %v", path, rate, low[path])
		}
	}
}

func TestScanStops(t *testing.T) {
	s := openLayout(t, untidy(t), "plain")
	ctx, cancel := context.WithCancel(t.Context())
	_, err := s.Scan(ctx, func(s *Set, path string) (int, time.Duration, error) { cancel(); return fakeProbe(s, path) }, nil)
	if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "stopped at recording b") {
		t.Errorf("got %v", err)
	}
}

func TestLayoutDocs(t *testing.T) {
	l, err := LoadLayout("circor")
	if err != nil {
		t.Fatal(err)
	}
	if got, want := l.LabelDoc("murmur"), "label of the data set: column Murmur of training_data.csv"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	other := *l
	other.Text = append([]byte("# a comment\n"), l.Text...)
	if len(l.Digest()) != 64 || l.Digest() == other.Digest() {
		t.Errorf("digests %s and %s", l.Digest(), other.Digest())
	}
}
