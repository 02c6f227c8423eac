package pipeline

import (
	"encoding/json"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// scoreKey is what the counts of the table scores are about.
type scoreKey struct{ recording, class string }

// tally counts outcomes as the table scores does.
type tally struct{ tp, fp, fn, ignored int32 }

// tallies counts the rows of the table matches: a pair once, on the side of the
// reference.
func tallies(t *testing.T, out string) map[scoreKey]tally {
	t.Helper()
	counts := map[scoreKey]tally{}
	for _, m := range allRows[table.Match](t, out) {
		k := scoreKey{m.Recording, m.Class}
		n := counts[k]
		switch {
		case m.Outcome == "TP" && m.Origin == table.Reference:
			n.tp++
		case m.Outcome == "FP" && m.Origin == table.Predicted:
			n.fp++
		case m.Outcome == "FN" && m.Origin == table.Reference:
			n.fn++
		case m.Outcome == "ignored" && m.Origin == table.Predicted:
			n.ignored++
		}
		counts[k] = n
	}
	return counts
}

// anchorsOf returns the times of the sounds of both sides of the table matches, without
// the recordings and classes of which a reference sound is cut.
func anchorsOf(t *testing.T, out string) map[scoreKey]map[string][]time.Duration {
	t.Helper()
	times, cut := map[scoreKey]map[string][]time.Duration{}, map[scoreKey]bool{}
	for _, m := range allRows[table.Match](t, out) {
		k := scoreKey{m.Recording, m.Class}
		if times[k] == nil {
			times[k] = map[string][]time.Duration{}
		}
		times[k][m.Origin] = append(times[k][m.Origin], m.Anchor)
		cut[k] = cut[k] || m.Outcome == "cut" || m.Outcome == "absorbed"
	}
	maps.DeleteFunc(times, func(k scoreKey, _ map[string][]time.Duration) bool { return cut[k] })
	return times
}

// mostPairs counts the pairs of two ascending lists of times: the earliest that are
// left are paired if they can be.
func mostPairs(a, b []time.Duration, tolerance time.Duration) (n int32) {
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0] < b[0]-tolerance:
			a = a[1:]
		case b[0] < a[0]-tolerance:
			b = b[1:]
		default:
			a, b, n = a[1:], b[1:], n+1
		}
	}
	return n
}

// allRows returns the rows of a table of an output folder.
func allRows[T table.Row](t *testing.T, out string) []T {
	t.Helper()
	var rows []T
	for row, err := range table.ReadParts[T](table.PartsOf[T](out)) {
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row)
	}
	return rows
}

// The table scores follows from the table matches, and the summary from the table
// scores: counts at the headline are counted anew, ratios computed anew, and each
// recording and class has every anchor and tolerance once.
func TestScoresFollowFromMatches(t *testing.T) {
	out := villageRun(t)
	counts, anchors, swept := tallies(t, out), anchorsOf(t, out), 0
	tolerances := map[scoreKey]map[string][]int32{}
	events := map[scoreKey]int32{}
	var pooled tally
	same := func(what string, k scoreKey, got, a, b float64) {
		if want := a / b; math.Abs(got-want) > 1e-15 && !(math.IsNaN(got) && b == 0) {
			t.Errorf("%v: %s is %v, want %v/%v", k, what, got, a, b)
		}
	}
	for _, s := range allRows[table.Score](t, out) {
		k := scoreKey{s.Recording, s.Class}
		if tolerances[k] == nil {
			tolerances[k], events[k] = map[string][]int32{}, s.TP+s.FN
		}
		tolerances[k][s.Anchor] = append(tolerances[k][s.Anchor], s.ToleranceMS)
		if s.TP+s.FN != events[k] {
			t.Errorf("%v at the %s within %d ms: %d reference events, %d elsewhere", k, s.Anchor, s.ToleranceMS, s.TP+s.FN, events[k])
		}
		tp, fp, fn := float64(s.TP), float64(s.FP), float64(s.FN)
		same("recall", k, s.Recall, tp, tp+fn)
		same("precision", k, s.Precision, tp, tp+fp)
		same("F1", k, s.F1, 2*tp, 2*tp+fp+fn)
		if times, ok := anchors[k]; ok && s.Anchor == "centre" {
			swept++
			tolerance := time.Duration(s.ToleranceMS) * time.Millisecond
			if want := mostPairs(times[table.Reference], times[table.Predicted], tolerance); s.TP != want {
				t.Errorf("%v within %v: %d pairs, want %d", k, tolerance, s.TP, want)
			}
		}
		if s.Anchor == "centre" && s.ToleranceMS == 60 {
			if got := (tally{s.TP, s.FP, s.FN, s.Ignored}); got != counts[k] {
				t.Errorf("%v: %+v, and the table matches has %+v", k, got, counts[k])
			}
			pooled.tp, pooled.fp, pooled.fn = pooled.tp+s.TP, pooled.fp+s.FP, pooled.fn+s.FN
		}
	}
	for k, anchors := range tolerances {
		for _, anchor := range []string{"centre", "onset", "offset"} {
			if want := []int32{20, 30, 40, 50, 60, 80, 100, 150}; !slices.Equal(anchors[anchor], want) {
				t.Errorf("%v at the %s: tolerances %v, want %v", k, anchor, anchors[anchor], want)
			}
		}
	}
	if swept < 100 || len(counts) < 40 || pooled.tp < 500 || pooled.fp == 0 || pooled.fn == 0 {
		t.Fatalf("%d recordings and classes, %d rows at the centre, %+v: too little to tell", len(counts), swept, pooled)
	}
	content, err := os.ReadFile(filepath.Join(out, "summary.json"))
	if err != nil {
		t.Fatal(err)
	}
	var summary eval.Summary
	if err := json.Unmarshal(content, &summary); err != nil {
		t.Fatal(err)
	}
	if h := summary.HeadlineRow; (tally{int32(h.TP), int32(h.FP), int32(h.FN), 0}) != pooled {
		t.Errorf("the headline counts TP %d, FP %d, FN %d; the table scores %+v", h.TP, h.FP, h.FN, pooled)
	}
}
