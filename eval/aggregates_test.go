package eval

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
)

// scaled makes all times longer by a factor n/d.
func scaled(list []pcg.Interval, n, d time.Duration) []pcg.Interval {
	out := make([]pcg.Interval, len(list))
	for i, iv := range list {
		out[i] = pcg.Interval{Start: iv.Start * n / d, End: iv.End * n / d, State: iv.State}
	}
	return out
}

// unevenCases are recordings of six people whose errors all differ, so that no two
// figures of the summary are the same by chance:
//
//	ann-1  right, all 10 ms late
//	ann-2  the third S1 missed, the first S2 30 ms early at its start, 20 ms at its end
//	bob-1  S1 and S2 exchanged
//	bob-2  failed
//	cy-1   107 beats a minute, in the prediction 1.4 % fewer, so that it falls behind
//	dee-1  points, of which two S2 are missed, and one S1 too many
//	eve-1  two S2 of the reference found as one; S1 cut by the start
//	flo-1  50 beats a minute, the second S1 found twice, half of the beats found
//
// and one more without a reference.
func unevenCases() []Case {
	whole := beats(500*ms, 6)
	missed := append(slices.Clone(whole[:8]), whole[9:]...)
	missed[1].End -= 30 * ms
	missed[2].Start, missed[2].End = missed[2].Start-30*ms, missed[2].End-20*ms
	missed[3].Start -= 20 * ms
	exchanged := shifted(beats(500*ms, 4), 4*ms)
	for i := range exchanged {
		exchanged[i].State = exchanged[i].State.Exchanged()
	}
	points := pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{
		{At: time.Second, Sound: pcg.S1}, {At: 1300 * ms, Sound: pcg.S2}, {At: 1900 * ms, Sound: pcg.S1}, {At: 2200 * ms, Sound: pcg.S2},
	}}
	cut := append([]pcg.Interval{{Start: 0, End: 100 * ms, State: pcg.S1}}, beats(0, 5)[1:]...)
	twice := append(slices.Clone(cut), sounds(pcg.S2, 4100, 4180)...)
	fast, slow := scaled(whole, 7, 10), scaled(whole, 3, 2)
	doubled := append(slices.Clone(slow[:4]), pcg.Interval{Start: 1950 * ms, End: 2000 * ms, State: pcg.S1}, pcg.Interval{Start: 2010 * ms, End: 2100 * ms, State: pcg.S1})
	doubled = append(doubled, slow[5:12]...)
	label := func(site, sex string) []pcg.Label {
		return []pcg.Label{{Name: BySite, Value: site}, {Name: "sex", Value: sex}, {Name: "clinic", Value: "one"}}
	}
	return []Case{
		{Recording: "ann-1", Person: "ann", Strata: label("apex", "f"), Reference: fromIntervals(whole), Predicted: shifted(whole, 10*ms), Length: 10 * time.Second},
		{Recording: "ann-2", Person: "ann", Strata: label("base", "f"), Reference: fromIntervals(whole), Predicted: missed, Length: 10 * time.Second},
		{Recording: "bob-1", Person: "bob", Strata: label("apex", "m"), Reference: fromIntervals(beats(500*ms, 4)), Predicted: exchanged, Length: 10 * time.Second},
		{Recording: "bob-2", Person: "bob", Strata: label("base", "m"), Reference: fromIntervals(beats(500*ms, 3)), Failed: true, Reason: "too loud", Length: 10 * time.Second},
		{Recording: "cy-1", Person: "cy", Strata: label("apex", ""), Reference: fromIntervals(fast), Predicted: scaled(fast, 71, 70), Length: 10 * time.Second},
		{Recording: "dee-1", Person: "dee", Strata: label("apex", "f"), Reference: points, Predicted: sounds(pcg.S1, 990, 1500, 1912), Length: 3 * time.Second},
		{Recording: "eve-1", Person: "eve", Strata: label("base", "m"), Reference: fromIntervals(twice), Predicted: append(slices.Clone(cut), sounds(pcg.S2, 4140)...), Length: 6 * time.Second},
		{Recording: "eve-2", Person: "eve", Strata: label("base", "m")},
		{Recording: "flo-1", Person: "flo", Strata: label("base", "m"), Reference: fromIntervals(slow), Predicted: doubled, Length: 10 * time.Second},
	}
}

// unevenSummary sums unevenCases up.
func unevenSummary(t testing.TB, o Options) *Summary {
	t.Helper()
	s, err := NewScorer(DefaultRules())
	if err != nil {
		t.Fatal(err)
	}
	acc := NewAccumulator(DefaultRules(), o)
	for _, c := range unevenCases() {
		r := s.Score(&c)
		acc.Add(&r)
	}
	return acc.Summary()
}

// The tables of a summary of uneven errors stand in testdata/eval/summary.txt. Their
// counts were made by hand from the cases; -update-tables writes them anew, to be
// read before they are committed.
func TestTablesOfASummary(t *testing.T) {
	s := unevenSummary(t, Options{Resamples: 400, Seed: 3, MinPeople: 2})
	var b bytes.Buffer
	for _, table := range s.Tables() {
		for _, format := range []tabular.Format{tabular.Text, tabular.CSV} {
			if err := table.Write(&b, format); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintln(&b)
		}
	}
	fmt.Fprintln(&b, strings.Join(s.Warnings, "\n"))
	checkText(t, filepath.Join("..", "testdata", "eval", "summary.txt"), b.Bytes())
}
