package report

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

// decoded returns the boundaries of a track of an outline as "ms:code".
func decoded(t *testing.T, track string) (list []string) {
	t.Helper()
	content, err := base64.StdEncoding.DecodeString(track)
	if err != nil || len(content)%2 != 0 {
		t.Fatalf("%d bytes, %v", len(content), err)
	}
	for ; len(content) > 0; content = content[2:] {
		word := binary.LittleEndian.Uint16(content)
		list = append(list, fmt.Sprintf("%d:%d", word>>3, word&7))
	}
	return list
}

// An outline holds what lies in the section, cut at its ends, with a gap after a state
// that is followed by none.
func TestOutline(t *testing.T) {
	v := View{
		From: time.Second, To: 9 * time.Second,
		Reference: pcg.Reference{Intervals: []pcg.Interval{
			{Start: 0, End: 900 * ms, State: pcg.Diastole}, {Start: 900 * ms, End: 1100 * ms, State: pcg.S1},
			{Start: 1100 * ms, End: 1300 * ms, State: pcg.Systole}, {Start: 1500 * ms, End: 1600 * ms, State: pcg.S2},
			{Start: 8 * time.Second, End: 10 * time.Second, State: pcg.Diastole},
		}},
		Tracks: []Track{
			{Points: []pcg.Point{{At: 500 * ms, Sound: pcg.S1}, {At: 1500 * ms, Sound: pcg.S1}, {At: 1800 * ms, Sound: pcg.S2}, {At: 9 * time.Second, Sound: pcg.S1}}},
			{},
		},
	}
	tracks, to := v.outline()
	want := [][]string{{"0:1", "100:2", "300:0", "500:3", "600:0", "7000:4", "8000:0"}, {"500:5", "800:7"}, nil}
	for i, track := range tracks {
		if got := decoded(t, track); !slices.Equal(got, want[i]) {
			t.Errorf("track %d: %q, want %q", i, got, want[i])
		}
	}
	if len(tracks) != 3 || to != 9*time.Second {
		t.Errorf("%d tracks to %v", len(tracks), to)
	}
	ecg := View{To: 4 * time.Second, Reference: pcg.Reference{
		Points:      []pcg.Point{{At: time.Second, Sound: pcg.S1}},
		Unannotated: []pcg.Interval{{Start: 2 * time.Second, End: 9 * time.Second}},
	}}
	if tracks, _ := ecg.outline(); !slices.Equal(decoded(t, tracks[0]), []string{"1000:5", "2000:6", "4000:0"}) {
		t.Errorf("an ECG as reference: %q", decoded(t, tracks[0]))
	}
	v.Trim()
	if again, to := v.outline(); !slices.Equal(again, tracks) || to != 9*time.Second || len(v.Reference.Intervals) != 4 || len(v.Tracks[0].Points) != 2 {
		t.Errorf("trimmed, the outline is %q to %v, want %q", again, to, tracks)
	}
}

// With more boundaries than there is room for, the outline ends early, with all that
// lies before its end.
func TestOutlineOfManyBoundaries(t *testing.T) {
	v := View{To: 8 * time.Second}
	for i := range 1000 {
		v.Reference.Points = append(v.Reference.Points, pcg.Point{At: time.Duration(8*i) * ms, Sound: pcg.S1})
	}
	v.Tracks = []Track{{Intervals: cycles(0, 0, 10)}}
	tracks, to := v.outline()
	points, states := decoded(t, tracks[0]), decoded(t, tracks[1])
	if to != 1600*ms || points[len(points)-1] != "1600:5" || states[len(states)-1] != "1600:1" || len(states) != 9 {
		t.Errorf("to %v, %d points, states %q", to, len(points), states)
	}
}

// A recording takes at most 2 kB of the page, without its names and its sound.
func TestRecordingDataIsSmall(t *testing.T) {
	r := Recording{View: View{Recording: "12345_AV", To: SectionWidth}, Person: "12345", Score: &ScoredRecording{TP: 100, FP: 100, FN: 100, Exchanged: true}}
	for i := range 30 { // 240 beats a minute
		at := time.Duration(i) * 250 * ms
		for k, state := range pcg.Cycle {
			r.Reference.Intervals = append(r.Reference.Intervals, pcg.Interval{Start: at + time.Duration(k)*60*ms, End: at + time.Duration(k+1)*60*ms, State: state})
		}
	}
	var labels []labelData
	for k := range 15 {
		labels = append(labels, labelData{Name: fmt.Sprint(k), Values: []string{"a", "b"}})
		r.Labels = append(r.Labels, pcg.Label{Name: fmt.Sprint(k), Value: "b"})
	}
	r.Envelope, r.EnvelopeRate = slices.Repeat([]float64{0.3, 0.7}, 4000), 1000
	for range 4 {
		r.Tracks = append(r.Tracks, Track{Name: "run", Intervals: r.Reference.Intervals})
	}
	if err := r.Reduce(); err != nil {
		t.Fatal(err)
	}
	content, err := json.Marshal(recordingDataOf(&r, labels))
	if err != nil || len(content) > 2000 || len(content) < 1200 {
		t.Errorf("%d bytes, %v", len(content), err)
	}
}

// The trace holds the mean envelope of each step as a share of the annotated peak.
func TestTrace(t *testing.T) {
	v := View{To: 100 * ms, Sound: Sound{EnvelopeRate: 1000}, Reference: pcg.Reference{Intervals: []pcg.Interval{{Start: 25 * ms, End: 50 * ms, State: pcg.S1}}}}
	for i := range 90 {
		v.Envelope = append(v.Envelope, []float64{0.1, 0.5, 2, 0}[i/25])
	}
	if got, want := v.trace(), []byte{51, 255, 255, 0}; !bytes.Equal(got, want) {
		t.Errorf("trace %v, want %v", got, want)
	}
	if got := (&View{Sound: Sound{Envelope: make([]float64, 30), EnvelopeRate: 1000}}).trace(); !bytes.Equal(got, []byte{0, 0}) {
		t.Errorf("silence gives %v", got)
	}
}

// The chart shows the labels of which two values have a score and which half of the
// recordings state; the figure of all strata shows every stratum with a score.
func TestStrataChart(t *testing.T) {
	row := func(stratum string, f1 eval.Ratio, recordings int) eval.Score {
		return eval.Score{Class: eval.Both, ToleranceMS: 60, Stratum: stratum, F1: f1, Low: nothing, High: nothing, People: 5, Recordings: recordings}
	}
	s := scores(
		row("site=A", 0.9, 40), row("site=B", 0.8, 40), row("site=not stated", 0.7, 20),
		row("one=a", 0.9, 60), row("one=b", nothing, 40),
		row("rare=a", 0.9, 20), row("rare=b", 0.9, 20), row("rare=not stated", 0.9, 60),
	)
	s.HeadlineRow.Recordings = 100
	f := strataChart(s)
	if want := "All: 90.0 %. site A: 90.0 %, 5 people. site B: 80.0 %, 5 people."; f.text != want {
		t.Errorf("%q, want %q", f.text, want)
	}
	p := sketchOf(t, f, axes{80, 100, -2.5, 0.5})
	p.text(t, "site: A (5)")
	p.text(t, "B (5)")
	p.has(t, "line above the label", "stroke:var(--rule);stroke-width:0.8", p.at(80, -0.5, 0, 0), p.at(100, -0.5, 0, 0))
	if text := strataFigure(s).text; !strings.Contains(text, "rare b: 90.0 %") || !strings.Contains(text, "one a: 90.0 %") || strings.Contains(text, "one b") {
		t.Errorf("all strata: %q", text)
	}
	if f := strataChart(scores()); f != nil {
		t.Error("a chart of no strata")
	}
}

// The labels of the map are those with two to twelve values, and it is first grouped
// by the label of the chart whose values differ most.
func TestGroupLabels(t *testing.T) {
	page := examplePage(t, "rec", 70*ms)
	for i := range page.Recordings {
		r := &page.Recordings[i]
		r.Labels = append(r.Labels, pcg.Label{Name: "same", Value: "x"}, pcg.Label{Name: "own", Value: fmt.Sprint(i)}, pcg.Label{Name: "half", Value: fmt.Sprint(i / 8)})
	}
	var names []string
	for _, l := range page.groupLabels() {
		names = append(names, fmt.Sprintf("%s %q", l.Name, l.Values))
	}
	if want := []string{`site ["recA" "recB"]`, `half ["0" "1"]`}; !slices.Equal(names, want) {
		t.Errorf("labels %q, want %q", names, want)
	}
	if d := page.data(); d.GroupBy != "site" { // the only one with scores
		t.Errorf("grouped by %q", d.GroupBy)
	}
	for i, f1 := range []eval.Ratio{0.9, 0.5} {
		page.Runs[0].Summary.Scores = append(page.Runs[0].Summary.Scores, eval.Score{
			Class: eval.Both, Stratum: fmt.Sprint("half=", i), F1: f1, Recordings: 8,
		})
	}
	if d := page.data(); d.GroupBy != "half" || d.Recordings[9].Labels[1] != 1 || d.Recordings[7].Labels[1] != 0 {
		t.Errorf("grouped by %q, labels %v", d.GroupBy, d.Recordings[9].Labels)
	}
}
