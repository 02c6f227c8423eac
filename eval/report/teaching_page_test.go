package report

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// uneven returns cycles whose diastoles differ.
func uneven(n int) []pcg.Interval {
	var list []pcg.Interval
	at := 300 * ms
	for i := range n {
		for k, length := range []time.Duration{120 * ms, 180 * ms, 100 * ms, time.Duration(300+50*(i%3)) * ms} {
			list = append(list, pcg.Interval{Start: at, End: at + length, State: pcg.Cycle[k]})
			at += length
		}
	}
	return list
}

func exampleTeachingPage(name string, intervals []pcg.Interval) *TeachingPage {
	v := exampleView(name)
	return &TeachingPage{
		Recording: name, DataSet: name, Citation: name, StatesBy: name, States: intervals, Length: teachingWidth, Sound: v.Sound,
	}
}

// Gaps up to that of the scoring rules do not divide a cycle.
func TestWholeCyclesAcrossGaps(t *testing.T) {
	for gap, want := range map[time.Duration]int{0: 1, 30 * ms: 1, 31 * ms: 0} {
		intervals := cycles(0, 0, 2)
		for i := range intervals[2:] {
			intervals[2+i].Start, intervals[2+i].End = intervals[2+i].Start+gap, intervals[2+i].End+gap
		}
		if got := len(WholeCycles(intervals)); got != want {
			t.Errorf("gap of %v: %d cycles, want %d", gap, got, want)
		}
	}
}

// An envelope that depends only on the state and on the fraction of it that has
// passed is the same in each stretched cycle: the mean is that function, and the
// percentiles coincide.
func TestAverageOfUnequalCycles(t *testing.T) {
	intervals := uneven(9)
	const rate = 1000
	x := make([]float64, 8000)
	for _, iv := range intervals {
		for i := pcg.ToSamples(iv.Start, rate); i < pcg.ToSamples(iv.End, rate); i++ {
			share := float64(i-pcg.ToSamples(iv.Start, rate)) / float64(pcg.ToSamples(iv.Duration(), rate))
			x[i] = 0.05
			if iv.State.IsSound() {
				x[i] += math.Sin(math.Pi*share) * map[pcg.State]float64{pcg.S1: 2, pcg.S2: 1}[iv.State]
			}
		}
	}
	a := newAverageCycle(WholeCycles(intervals), &Sound{x, x, rate, rate})
	if a.Cycles != 8 || a.lengths != [4]time.Duration{120 * ms, 180 * ms, 100 * ms, 350 * ms} {
		t.Fatalf("%d cycles of %v", a.Cycles, a.lengths)
	}
	for i, m := range a.mean {
		at := time.Duration(i) * envelopeStep
		want := 0.05
		switch {
		case at < 120*ms:
			want += 2 * math.Sin(math.Pi*at.Seconds()/0.12)
		case at >= 300*ms && at < 400*ms:
			want += math.Sin(math.Pi * (at.Seconds() - 0.3) / 0.1)
		}
		if want /= 2.05; math.Abs(m-want) > 0.02 || a.p90[i]-a.p10[i] > 0.02 {
			t.Fatalf("at %v: mean %.3f, from %.3f to %.3f; want %.3f throughout", at, m, a.p10[i], a.p90[i], want)
		}
	}
}

// Percentiles at a time at which the cycles have the values 0, 1, … 10.
func TestPercentilesOfEnvelope(t *testing.T) {
	a := &averageCycle{}
	var rows [][]float64
	for i := range 11 {
		rows = append(rows, []float64{float64(i)})
	}
	a.summarise(rows)
	if a.mean[0] != 1 || math.Abs(a.p10[0]-1./5) > 1e-12 || math.Abs(a.p90[0]-9./5) > 1e-12 { // mean 5, quantiles 1 and 9
		t.Errorf("mean %v, from %v to %v of the mean", a.mean[0], a.p10[0], a.p90[0])
	}
}

func teachingHTML(t testing.TB, p *TeachingPage) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestTeachingPageContent(t *testing.T) {
	html := teachingHTML(t, exampleTeachingPage("rec", uneven(9)))
	for _, want := range []string{
		caution, "mitral", "tricuspid", "aortic", "pulmonary", "Weissler", "doi:10.1016/S0140-6736(10)62226-X", `data-heart="S1"`, `data-heart="diastole"`,
		"120 ms (120 to 120)", "80 beats per minute", `id="average-title"`, "data:audio/wav;base64,",
	} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, disease := range []string{"stenosis", "regurgitation", "insufficiency", "prolapse", "defect", "disease of"} {
		if strings.Contains(strings.ToLower(html), disease) {
			t.Errorf("the page names a disease: %q", disease)
		}
	}
	if strings.Contains(html, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
}

// At 60 beats per minute QS2 is 546 − 2.1·60 = 420 ms (Weissler, Harris, Schoenfeld
// 1968, from memory), and 350 ms remain from S1 on.
func TestTextbookDurations(t *testing.T) {
	intervals := cycles(0, 0, 4)
	for i := range intervals {
		n := time.Duration(i / 4)
		intervals[i].Start, intervals[i].End = intervals[i].Start+n*200*ms, intervals[i].End+n*200*ms
		if i%4 == 3 {
			intervals[i].End += 200 * ms
		}
	}
	whole := WholeCycles(intervals)
	if rate := rateOf(whole); rate != 60 {
		t.Fatalf("%v beats per minute", rate)
	}
	d := durationsOf(whole)
	if d[2].Measured != "300 ms (300 to 300)" || d[2].Textbook != "about 322 to 378 ms" || d[3].Textbook != "about 650 ms" {
		t.Errorf("S1 to S2 %q, textbook %q; S2 to S1 textbook %q", d[2].Measured, d[2].Textbook, d[3].Textbook)
	}
}

func TestTeachingPageWithoutWholeCycle(t *testing.T) {
	html := teachingHTML(t, exampleTeachingPage("rec", cycles(0, 0, 1)))
	if strings.Contains(html, `id="durations"`) || strings.Contains(html, "average-title") {
		t.Error("durations of no cycle")
	}
}

func TestTeachingPageEscapesNames(t *testing.T) {
	html := teachingHTML(t, exampleTeachingPage(hostile, uneven(9)))
	if n := strings.Count(html, "<script"); n != 1 {
		t.Errorf("%d script elements, want the page's own", n)
	}
}
