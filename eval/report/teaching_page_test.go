package report

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
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
	return &TeachingPage{Stretch: TeachingStretch, Recordings: []TeachingRecording{exampleTeachingRecording(name, intervals)}}
}

func exampleTeachingRecording(name string, intervals []pcg.Interval) TeachingRecording {
	v := exampleView(name)
	return TeachingRecording{
		Recording: name, DataSet: name, Citation: name, StatesBy: name, States: intervals, Length: 8 * time.Second, To: TeachingStretch,
		Sound: v.Sound, Labels: []Fact{{"site", "mitral"}, {"systolic murmur timing", "Holo" + name}},
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
		"120 ms (120 to 120)", "80 beats per minute", `id="average-1-title"`, "data:audio/wav;base64,",
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
	rows := durationTable([][]pcg.CycleTimes{whole, nil})
	if d, next := rows[2].Cells[0], rows[3].Cells[0]; d != (duration{"300 ms (300 to 300)", "about 322 to 378 ms"}) || next.Textbook != "about 650 ms" {
		t.Errorf("S1 to S2 %+v, S2 to S1 %+v", d, next)
	}
	if d := rows[2].Cells[1]; d != (duration{}) {
		t.Errorf("without a whole cycle %+v", d)
	}
}

func TestTeachingPageWithoutWholeCycle(t *testing.T) {
	html := teachingHTML(t, exampleTeachingPage("rec", cycles(0, 0, 1)))
	if strings.Contains(html, `id="durations"`) || strings.Contains(html, "average-1-title") {
		t.Error("durations of no cycle")
	}
}

func TestTeachingPageEscapesNames(t *testing.T) {
	for name, want := range map[string]int{"page": 1, "quiz": 1, "sheet": 0} {
		page := exampleTeachingPage(hostile, uneven(9))
		page.Quiz, page.Sheet = name == "quiz", name == "sheet"
		html := teachingHTML(t, page)
		if n := strings.Count(html, "<script"); n != want {
			t.Errorf("%s: %d script elements, want the page's own", name, n)
		}
		if html != teachingHTML(t, page) {
			t.Errorf("%s: the same page gives other bytes", name)
		}
	}
}

// The words about a pause are those of the height that its envelope has in the figure.
func TestWordsFollowTheEnvelope(t *testing.T) {
	for _, tt := range []struct {
		height float64
		want   string
	}{
		{0.01, "1 % of the height of the louder sound: almost flat in the drawing."},
		{0.15, "15 % of the height of the louder sound: low, but visible in the drawing."},
		{0.4, "40 % of the height of the louder sound: a sound that is clearly visible in the drawing."},
	} {
		page := exampleTeachingPage("rec", uneven(9))
		r := &page.Recordings[0]
		for _, iv := range r.States {
			height := map[pcg.State]float64{pcg.S1: 1, pcg.Systole: tt.height, pcg.S2: 0.5, pcg.Diastole: 0.02}[iv.State]
			for i := pcg.ToSamples(iv.Start, r.Sound.EnvelopeRate); i < pcg.ToSamples(iv.End, r.Sound.EnvelopeRate); i++ {
				r.Sound.Envelope[i] = height
			}
		}
		words := newAverageCycle(WholeCycles(r.States), &r.Sound).words()
		if want := "180 ms, 24 % of the cycle. Its middle has " + tt.want; words["systole"] != want {
			t.Errorf("systole: %q, want %q", words["systole"], want)
		}
		if !strings.HasSuffix(words["diastole"], "2 % of the height of the louder sound: almost flat in the drawing.") || !strings.Contains(words["diastole"], ", longer than systole.") {
			t.Errorf("diastole: %q", words["diastole"])
		}
		if !strings.HasSuffix(words["S1"], "; louder than S2.") || !strings.HasSuffix(words["S2"], "; softer than S1.") {
			t.Errorf("sounds: %q, %q", words["S1"], words["S2"])
		}
		if html := teachingHTML(t, page); strings.Contains(html, "almost no sound") || !strings.Contains(html, tt.want) {
			t.Errorf("the page lacks %q", tt.want)
		}
	}
}

// threeRecordings returns a page that compares three recordings, of which the second
// is shorter than the stretch.
func threeRecordings() *TeachingPage {
	page := exampleTeachingPage("normal__1", uneven(9))
	page.Recordings = append(page.Recordings, exampleTeachingRecording("murmur__2", cycles(300*ms, 0, 4)), exampleTeachingRecording("fast__3", cycles(0, 0, 12)))
	for i := range page.Recordings {
		page.Recordings[i].DataSet, page.Recordings[i].Citation = "A set", "Its paper"
	}
	page.Recordings[1].To, page.Recordings[1].Length = 3*time.Second, 3*time.Second
	page.Recordings[2].From, page.Recordings[2].To = 2*time.Second, 7*time.Second
	return page
}

// Recordings side by side have one time scale.
func TestOneTimeScale(t *testing.T) {
	html := teachingHTML(t, threeRecordings())
	found := regexp.MustCompile(`data-left="([\d.]+)" data-right="([\d.]+)" data-from="([\d.]+)" data-seconds="([\d.]+)"`).FindAllStringSubmatch(html, -1)
	if len(found) != 3 {
		t.Fatalf("%d recordings", len(found))
	}
	var scales []float64
	for _, m := range found {
		var left, right, from, seconds float64
		if _, err := fmt.Sscan(strings.Join(m[1:], " "), &left, &right, &from, &seconds); err != nil {
			t.Fatal(err)
		}
		scales = append(scales, (right-left)/seconds)
	}
	if found[1][4] != "3" || found[2][3] != "2" || math.Abs(scales[0]-scales[1]) > 0.5 || math.Abs(scales[0]-scales[2]) > 0.5 {
		t.Errorf("units per second %v, %q", scales, found)
	}
	if n := strings.Count(html, `<title id="average-`); n != 3 {
		t.Errorf("%d average cycles", n)
	}
}

// Titles name the recordings, but not where the names give the answer away.
func TestTitlesOfTeachingPages(t *testing.T) {
	one, three := exampleTeachingPage("rec", uneven(9)), threeRecordings()
	quiz, sheet := threeRecordings(), exampleTeachingPage("normal__1", uneven(9))
	quiz.Quiz, sheet.Sheet = true, true
	for want, page := range map[string]*TeachingPage{
		"Heart sounds of recording rec": one, "Heart sounds of recordings normal__1, murmur__2 and fast__3": three,
		"Quiz: find the heart sounds in 3 recordings": quiz, "Worksheet: find the heart sounds in 1 recording": sheet,
	} {
		if html := teachingHTML(t, page); !strings.Contains(html, "<title>"+want+"</title>") {
			t.Errorf("no title %q", want)
		}
	}
}

// The first page of a worksheet has signals without states, names or labels; the
// second has them.
func TestWorksheet(t *testing.T) {
	page := threeRecordings()
	page.Sheet = true
	html := teachingHTML(t, page)
	_, body, _ := strings.Cut(html, "<body")
	question, answer, _ := strings.Cut(body, "<h1>Answer</h1>")
	const s1 = "fill:#0072B2" // a block of S1
	for _, part := range []string{"murmur__2", "Holo", "mitral", "beats", s1, " S1 and ", "data:audio"} {
		if strings.Contains(question, part) {
			t.Errorf("the page to be marked has %q", part)
		}
	}
	for _, part := range []string{"murmur__2", "systolic murmur timing Holofast__3", "Labels of the data set, not measured here", s1, " S1 and ", "80 per minute", "licensed practitioners"} {
		if !strings.Contains(answer, part) {
			t.Errorf("the answer lacks %q", part)
		}
	}
	if n := strings.Count(body, "<svg"); n != 6 {
		t.Errorf("%d figures", n)
	}
}
