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

func exampleLesson(name string, intervals []pcg.Interval) *Lesson {
	v := exampleView(name)
	v.Reference.Intervals, v.Tracks = intervals, nil
	cycles := WholeCycles(intervals)
	return &Lesson{
		Recording: name, DataSet: name, Citation: name, Marking: name, View: v, Cycles: cycles,
		Average: NewAverage(cycles, v.Wave, v.WaveRate, v.Envelope, v.EnvelopeRate),
	}
}

func TestWholeCycles(t *testing.T) {
	three := cycles(0, 0, 3)
	apart := cycles(0, 0, 2)
	for i := range apart[4:] {
		apart[4+i].Start, apart[4+i].End = apart[4+i].Start+31*ms, apart[4+i].End+31*ms
	}
	for name, tt := range map[string]struct {
		intervals []pcg.Interval
		want      int
	}{
		"none":                      {nil, 0},
		"the last has no successor": {three, 2},
		"cut at the front":          {three[1:], 1},
		"a state is missing":        {append(append([]pcg.Interval{}, three[:2]...), three[3:]...), 1},
		"too far apart":             {apart, 0},
	} {
		if got := len(WholeCycles(tt.intervals)); got != tt.want {
			t.Errorf("%s: %d cycles, want %d", name, got, tt.want)
		}
	}
	if c := WholeCycles(three)[1]; c != (pcg.CycleTimes{800 * ms, 920 * ms, 1100 * ms, 1200 * ms, 1600 * ms}) {
		t.Errorf("the second cycle is %v", c)
	}
}

// An envelope that is a function of the state and of the share of it that has
// passed is the same in each stretched cycle, whatever the lengths: its mean is
// that function, and its spread nothing.
func TestAverageUndoesTheRhythm(t *testing.T) {
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
	a := NewAverage(WholeCycles(intervals), x, rate, x, rate)
	if a.Cycles != 8 || a.Lengths != [4]time.Duration{120 * ms, 180 * ms, 100 * ms, 350 * ms} {
		t.Fatalf("%d cycles of %v", a.Cycles, a.Lengths)
	}
	for i, m := range a.Mean {
		at := time.Duration(i) * averageStep
		want := 0.05
		switch {
		case at < 120*ms:
			want += 2 * math.Sin(math.Pi*at.Seconds()/0.12)
		case at >= 300*ms && at < 400*ms:
			want += math.Sin(math.Pi * (at.Seconds() - 0.3) / 0.1)
		}
		if want /= 2.05; math.Abs(m-want) > 0.02 || a.High[i]-a.Low[i] > 0.02 {
			t.Fatalf("at %v: mean %.3f, from %.3f to %.3f; want %.3f and no spread", at, m, a.Low[i], a.High[i], want)
		}
	}
}

// Quantiles of the spread at a moment at which the cycles are 0, 1, … 10.
func TestAverageSpread(t *testing.T) {
	a := &Average{Lengths: [4]time.Duration{ms, ms, ms, ms}}
	var rows [][]float64
	for i := range 11 {
		rows = append(rows, []float64{float64(i)})
	}
	a.summarise(rows)
	if a.Mean[0] != 1 || math.Abs(a.Low[0]-1./5) > 1e-12 || math.Abs(a.High[0]-9./5) > 1e-12 { // mean 5, quantiles 1 and 9
		t.Errorf("mean %v, from %v to %v of the mean", a.Mean[0], a.Low[0], a.High[0])
	}
}

func lessonHTML(t testing.TB, l *Lesson) string {
	t.Helper()
	var b bytes.Buffer
	if err := l.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestLessonSaysWhatItMust(t *testing.T) {
	html := lessonHTML(t, exampleLesson("rec", uneven(9)))
	for _, want := range []string{
		Caution, "mitral", "tricuspid", "aortic", "pulmonary", "Weissler", "doi:10.1016/S0140-6736(10)62226-X", `data-heart="S1"`, `data-heart="diastole"`,
		"120 ms (120 to 120)", "80 beats a minute", `id="average-title"`, "data:audio/wav;base64,",
	} {
		if !strings.Contains(html, want) {
			t.Errorf("the lesson lacks %q", want)
		}
	}
	for _, disease := range []string{"stenosis", "regurgitation", "insufficiency", "prolapse", "defect", "disease of"} {
		if strings.Contains(strings.ToLower(html), disease) {
			t.Errorf("the lesson names a disease: %q", disease)
		}
	}
	if strings.Contains(html, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
}

// At 60 beats a minute QS2 is 546 − 2.1·60 = 420 ms (Weissler, Harris, Schoenfeld
// 1968, from memory), and 350 ms remain from S1 on.
func TestLessonExpectsWhatTheTextbookSays(t *testing.T) {
	intervals := cycles(0, 0, 4)
	for i := range intervals {
		n := time.Duration(i / 4)
		intervals[i].Start, intervals[i].End = intervals[i].Start+n*200*ms, intervals[i].End+n*200*ms
		if i%4 == 3 {
			intervals[i].End += 200 * ms
		}
	}
	l := &Lesson{Cycles: WholeCycles(intervals)}
	if rate := l.rate(); rate != 60 {
		t.Fatalf("%v beats a minute", rate)
	}
	d := l.durations()
	if d[2].Measured != "300 ms (300 to 300)" || d[2].Textbook != "about 322 to 378 ms" || d[3].Textbook != "about 650 ms" {
		t.Errorf("from S1 to S2 %q, usual %q; from S2 to S1 usual %q", d[2].Measured, d[2].Textbook, d[3].Textbook)
	}
}

func TestLessonWithoutAWholeCycle(t *testing.T) {
	html := lessonHTML(t, exampleLesson("rec", cycles(0, 0, 1)))
	if strings.Contains(html, `id="durations"`) || strings.Contains(html, "average-title") {
		t.Error("durations of no cycle")
	}
}

func TestLessonEscapesNames(t *testing.T) {
	html := lessonHTML(t, exampleLesson(hostile, uneven(9)))
	if n := strings.Count(html, "<script"); n != 1 {
		t.Errorf("%d script elements, want the page's own", n)
	}
}
