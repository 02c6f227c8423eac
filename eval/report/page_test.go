package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/csv"
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/eval/tabular"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
)

const ms = time.Millisecond

// hostile is an id or label that must not change a page.
const hostile = `<script>alert(1)</script>"'&lt;|_$\` + "`"

// cycles returns n cycles of 800 ms from start on, shifted by shift.
func cycles(start, shift time.Duration, n int) []pcg.Interval {
	lengths := [4]time.Duration{120 * ms, 180 * ms, 100 * ms, 400 * ms}
	var list []pcg.Interval
	at := start + shift
	for range n {
		for k, length := range lengths {
			list = append(list, pcg.Interval{Start: at, End: at + length, State: pcg.Cycle[k]})
			at += length
		}
	}
	return list
}

// tone returns samples with a tone burst at each sound of intervals.
func tone(intervals []pcg.Interval, length time.Duration, rate int) []float64 {
	x := make([]float64, pcg.ToSamples(length, rate))
	for _, iv := range intervals {
		if !iv.State.IsSound() {
			continue
		}
		for i := pcg.ToSamples(iv.Start, rate); i < min(pcg.ToSamples(iv.End, rate), len(x)); i++ {
			phase := float64(i-pcg.ToSamples(iv.Start, rate)) / float64(pcg.ToSamples(iv.Duration(), rate))
			x[i] = math.Sin(math.Pi*phase) * math.Sin(2*math.Pi*60*float64(i)/float64(rate))
		}
	}
	return x
}

// examplePage returns a page of runs with growing shifts over eight people, with
// two recordings shown. All ids and labels start with name.
func examplePage(t testing.TB, name string, shifts ...time.Duration) *Page {
	t.Helper()
	rules := eval.DefaultRules()
	scorer, err := eval.NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	auditor, err := eval.NewAuditor(rules)
	if err != nil {
		t.Fatal(err)
	}
	page := &Page{Title: "A report"}
	var runs []eval.Run
	for k, shift := range shifts {
		acc := eval.NewAccumulator(rules, eval.Options{Resamples: 200, Seed: 1})
		details := &Details{}
		for i := range 16 {
			reference := pcg.Reference{Kind: pcg.IntervalReference, Intervals: cycles(300*ms, 0, 10)}
			c := eval.Case{
				Recording: fmt.Sprintf("%s%02d", name, i), Person: fmt.Sprintf("%s p%d", name, i/2), Length: 9 * time.Second,
				Strata:    []pcg.Label{{Name: "site", Value: name + []string{"A", "B"}[i%2]}},
				Reference: reference, Predicted: cycles(300*ms, shift*time.Duration(i)/8, 10),
			}
			result := scorer.Score(&c)
			acc.Add(&result)
			details.Add(&result, &rules)
			if k == 0 {
				r := Recording{View: exampleView(c.Recording)}
				r.Describe(&result)
				if i > 1 {
					r.Wave = nil
					if err := r.Reduce(); err != nil {
						t.Fatal(err)
					}
				}
				page.Recordings = append(page.Recordings, r)
				if i == 3 { // a reference that the audit finds
					c.Reference.Intervals = exchanged(c.Reference.Intervals)
				}
				auditor.Add(c, nil)
			}
		}
		run := fmt.Sprintf("%s run %d", name, k)
		summary := acc.Summary()
		summary.Provenance = eval.Provenance{Method: name, Title: name, Origin: eval.MadeElsewhere, Declared: eval.CrossValidated, Folds: 3, FoldsFrom: name, People: name, Condition: name}
		page.Runs = append(page.Runs, Run{Name: run, Summary: summary, Details: details, Colophon: Colophon{
			Tool: "phonocycle", Cost: name, ConfigDigest: name, InputDigest: "00", In: 17, Done: 16, Failed: 1,
			DataSets: []DataSet{{Name: name, Title: name, Version: name, Citation: name, ListDigest: name + "0123456789abcdef"}},
			Problems: []Problem{{name, "failed", name}}, Warnings: []string{name},
			Started: time.Date(2020, 1, 2, 3, 4, 5, 0, time.UTC), Ended: time.Date(2020, 1, 2, 3, 4, 6, 0, time.UTC),
		}})
		runs = append(runs, eval.Run{Name: run, Results: acc})
	}
	page.Audit = auditor.Audit()
	if len(runs) > 1 {
		if page.Comparison, err = eval.Compare(runs, eval.Options{Resamples: 200, Seed: 1}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range page.Recordings {
		page.Recordings[i].Score = &page.Runs[0].Details.Recordings[i]
		page.Recordings[i].AddFacts()
	}
	page.Groups = []Group{{Title: "Best", Why: name, Recordings: []int{0}}, {Title: name, Why: name, Recordings: []int{0, 1}}}
	return page
}

func exchanged(intervals []pcg.Interval) []pcg.Interval {
	list := make([]pcg.Interval, len(intervals))
	for i, iv := range intervals {
		iv.State = iv.State.Exchanged()
		list[i] = iv
	}
	return list
}

func exampleView(name string) View {
	intervals := cycles(300*ms, 0, 10)
	wave := tone(intervals, 8*time.Second, 4000)
	envelope := make([]float64, 8000)
	for i := range envelope {
		envelope[i] = math.Abs(wave[4*i])
	}
	return View{
		Recording: name, Facts: []Fact{{name, name}}, To: 8 * time.Second,
		Sound:     Sound{Wave: wave, WaveRate: 4000, Envelope: envelope, EnvelopeRate: 1000},
		Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: intervals},
		Tracks:    []Track{{Name: name, Intervals: cycles(300*ms, 20*ms, 10)}},
	}
}

func written(t testing.TB, page *Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := page.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestPageContent(t *testing.T) {
	html := written(t, examplePage(t, "rec", 10*ms, 40*ms))
	for _, want := range []string{
		caution, "Content-Security-Policy", "default-src &#39;none&#39;", "60 ms", "Recall (Se)", "Precision (PPV)", "bootstrap over people",
		`id="tolerance-title"`, `id="strata-title"`, `id="deltas-title"`, `id="confusion-title"`, `id="rate-agreement-title"`,
		`id="systole-agreement-title"`, `id="methods-title"`, `id="recording-1-1-title"`, "data:audio/wav;base64,UklGR",
		"References to review", "exchanged, by", "2020-01-02 03:04 UTC", "17 in = 16 done",
	} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(html, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
	for _, drawn := range strings.Split(html, "<svg ")[1:] {
		head, _, _ := strings.Cut(drawn, ">")
		if !strings.Contains(head, `role="img"`) || !strings.Contains(head, "aria-labelledby") {
			t.Errorf("a figure without a text: <svg %s>", head)
		}
	}
}

// A page of one run has no comparison.
func TestPageOfOneRun(t *testing.T) {
	html := written(t, examplePage(t, "rec", 10*ms))
	if strings.Contains(html, `id="methods"`) || strings.Contains(html, "methods-title") {
		t.Error("one run has a comparison")
	}
}

func TestPageEscapesNames(t *testing.T) {
	html := written(t, examplePage(t, hostile, 10*ms, 40*ms))
	if n := strings.Count(html, "<script"); n != 2 {
		t.Errorf("%d script elements, want the page's own and its data", n)
	}
	if !strings.Contains(html, "&lt;script&gt;alert(1)") {
		t.Error("the name is not shown at all")
	}
	if strings.Contains(html, `"'&lt;`) {
		t.Error("a quote within a name can end an attribute")
	}
}

func TestPageIsReproducible(t *testing.T) {
	a, b := written(t, examplePage(t, "rec", 10*ms, 40*ms)), written(t, examplePage(t, "rec", 10*ms, 40*ms))
	if a != b {
		t.Error("the same values give another page")
	}
}

// Drawing is slow under the race detector, so one figure is tested: the one with
// the most names from outside.
func TestFiguresAndTablesAsFiles(t *testing.T) {
	var made [2][]File
	for i := range made {
		page := examplePage(t, hostile, 10*ms, 40*ms)
		for _, files := range []func() ([]File, error){strataFigure(page.Runs[0].Summary).files, page.TableFiles} {
			list, err := files()
			if err != nil {
				t.Fatal(err)
			}
			made[i] = append(made[i], list...)
		}
	}
	magic := map[string]string{".svg": "<?xml", ".png": "\x89PNG", ".pdf": "%PDF", ".md": "", ".tex": "% needs", ".csv": ""}
	if want := 3 + 3*len(examplePage(t, hostile, 10*ms, 40*ms).tables()); len(made[0]) != want {
		t.Errorf("%d files, want %d", len(made[0]), want)
	}
	for k, f := range made[0] {
		file, a := f.Name, f.Content
		if !bytes.Equal(a, made[1][k].Content) {
			t.Errorf("%s is not reproducible", file)
		}
		want, known := magic[filepath.Ext(file)]
		if !known || !bytes.HasPrefix(a, []byte(want)) || len(a) < 30 {
			t.Errorf("%s does not look like one", filepath.Base(file))
		}
		if file == "strata.png" { // 340 points at 300 to the inch
			if size, err := png.DecodeConfig(bytes.NewReader(a)); err != nil || size.Width != 1417 {
				t.Errorf("%s is %d wide, %v", file, size.Width, err)
			}
		}
	}
}

// The name of a figure is a file name and an id in the page.
func TestFigureNamesAreUnique(t *testing.T) {
	page := examplePage(t, "rec", 10*ms, 40*ms)
	seen := make(map[string]bool)
	for _, f := range page.figures() {
		if seen[f.name] || f.title == "" || f.text == "" {
			t.Errorf("figure %q: not unique, or without title or text", f.name)
		}
		seen[f.name] = true
	}
	if len(seen) != 8 {
		t.Errorf("%d figures, want 8", len(seen))
	}
	html := written(t, page)
	for _, id := range []string{"recording-1-1", "recording-2-2"} { // the second group begins with the first recording
		if strings.Count(html, `<article class="player" id="`+id+`"`) != 1 {
			t.Errorf("player %s is not in the page once", id)
		}
	}
}

func TestWavURI(t *testing.T) {
	uri, err := wavURI([]float64{0, 0.1, -0.2, 0.05}, 4000)
	if err != nil {
		t.Fatal(err)
	}
	content, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(string(uri), "data:audio/wav;base64,"))
	if err != nil {
		t.Fatal(err)
	}
	var d audio.Decoder
	clip, err := d.Decode(bytes.NewReader(content))
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{0, 0.45, -0.9, 0.225}
	if clip.Rate != 4000 || len(clip.Samples) != len(want) {
		t.Fatalf("%d samples at %d Hz", len(clip.Samples), clip.Rate)
	}
	for i, v := range want {
		if math.Abs(clip.Samples[i]-v) > 1e-4 {
			t.Errorf("sample %d is %v, want %v", i, clip.Samples[i], v)
		}
	}
	if _, err := wavURI(make([]float64, 10), 4000); err != nil {
		t.Errorf("silence: %v", err)
	}
}

func TestHistogramBins(t *testing.T) {
	var h histogram
	for _, delta := range []time.Duration{0, 2 * ms, -2 * ms, 3 * ms, -3 * ms, 20 * ms, 500 * ms, -500 * ms} {
		h.add(delta)
	}
	for _, tt := range []struct{ bin, want int }{{0, 3}, {1, 1}, {-1, 1}, {4, 1}, {binsAside, 1}, {-binsAside, 1}, {2, 0}} {
		if got := h.bins[binsAside+tt.bin]; got != tt.want {
			t.Errorf("%d in the bin at %v, want %d", got, time.Duration(tt.bin)*binWidth, tt.want)
		}
	}
}

// The limits of agreement are within the axis, even where all differences are
// smaller.
func TestAgreementFigureShowsLimits(t *testing.T) {
	f := agreementFigure("x", "x", "ms", eval.Agreement{Lower: -9, Upper: 11, Bias: -0.01}, []pair{{300, 302}, {310, 305}})
	if f.plot.Y.Min > -9 || f.plot.Y.Max < 11 || f.plot.X.Min >= 301 || f.plot.X.Max <= 307.5 {
		t.Errorf("axes from %v to %v and from %v to %v", f.plot.X.Min, f.plot.X.Max, f.plot.Y.Min, f.plot.Y.Max)
	}
	if got := signed(-0.01); got != "+0.0" {
		t.Errorf("-0.01 is printed as %q", got)
	}
}

func TestDetailsAgreeWithTheSummary(t *testing.T) {
	page := examplePage(t, "rec", 45*ms)
	headline, details := page.Runs[0].Summary.HeadlineRow, page.Runs[0].Details
	var tp, fp, fn int
	for _, r := range details.Recordings {
		tp, fp, fn = tp+r.TP, fp+r.FP, fn+r.FN
	}
	if tp != headline.TP || fp != headline.FP || fn != headline.FN || fn == 0 || tp == 0 {
		t.Errorf("%d, %d, %d of recordings, %d, %d, %d in the summary", tp, fp, fn, headline.TP, headline.FP, headline.FN)
	}
	for i, spread := range page.Runs[0].Summary.Timing {
		if n := details.places[i].n; n != spread.N {
			t.Errorf("%s: %d differences, %d in the summary", placeNames[i], n, spread.N)
		}
	}
}

func TestWindow(t *testing.T) {
	ref := &pcg.Reference{Intervals: cycles(12*time.Second, 0, 5)} // to 16 s
	for _, tt := range []struct{ length, width, from, to time.Duration }{
		{30 * time.Second, 4 * time.Second, 12 * time.Second, 16 * time.Second},
		{30 * time.Second, 8 * time.Second, 8 * time.Second, 16 * time.Second},
		{5 * time.Second, 8 * time.Second, 0, 5 * time.Second},
	} {
		if from, to := Window(ref, tt.length, tt.width); from != tt.from || to != tt.to {
			t.Errorf("of %v, %v wide: %v to %v, want %v to %v", tt.length, tt.width, from, to, tt.from, tt.to)
		}
	}
	points := &pcg.Reference{Points: []pcg.Point{{At: 9 * time.Second, Sound: pcg.S1}}}
	if from, to := Window(points, 20*time.Second, 4*time.Second); from > 9*time.Second || to < 9*time.Second {
		t.Errorf("%v to %v does not hold the point at 9 s", from, to)
	}
}

// The script places the cursor by the ends of the time axis.
func TestEndsOfTimeAxis(t *testing.T) {
	v := exampleView("rec")
	p, err := newPlayer(&v)
	if err != nil {
		t.Fatal(err)
	}
	svg := string(p.Drawn)
	want := p.Left + (p.Right-p.Left)*0.3/8 // the first S1 begins at 0.3 s
	if !strings.Contains(svg, fmt.Sprintf("M%.5g,", want)) {
		t.Errorf("no block begins at x = %.5g, where the first S1 should", want)
	}
}

// Noise outside annotated time does not change the scale.
func TestAnnotatedPeak(t *testing.T) {
	v := exampleView("rec")
	want := v.annotatedPeak(v.Wave, v.WaveRate)
	v.Wave[100] = 50 // at 25 ms, before the first annotation
	if got := v.annotatedPeak(v.Wave, v.WaveRate); got != want || want > 1 {
		t.Errorf("the annotated peak is %v, with noise before it %v", want, got)
	}
	v.Reference.Intervals = nil
	if got := v.annotatedPeak(v.Wave, v.WaveRate); got != 50 {
		t.Errorf("without annotation the peak is %v, want 50", got)
	}
}

// fullWriter takes so many bytes and no more.
type fullWriter int

func (w *fullWriter) Write(p []byte) (int, error) {
	n := min(len(p), int(*w))
	if *w -= fullWriter(n); n < len(p) {
		return n, errFull
	}
	return n, nil
}

var errFull = errors.New("no room")

// Wherever the output becomes full, both pages say so.
func TestPagesSayThatTheOutputIsFull(t *testing.T) {
	for name, page := range map[string]interface{ Write(io.Writer) error }{
		"report":   examplePage(t, "rec", 10*ms),
		"teaching": exampleTeachingPage("rec", uneven(9)),
	} {
		var whole bytes.Buffer
		if err := page.Write(&whole); err != nil {
			t.Fatal(err)
		}
		for i := range 8 {
			full := fullWriter(whole.Len() * i / 8)
			if err := page.Write(&full); !errors.Is(err, errFull) {
				t.Errorf("%s: room for %d eighths: %v", name, i, err)
			}
		}
		full := fullWriter(whole.Len())
		if err := page.Write(&full); err != nil {
			t.Errorf("%s: room for all: %v", name, err)
		}
	}
}

// Samples that cannot be written as audio are an error that names the recording.
func TestPagesSayThatAudioIsWrong(t *testing.T) {
	report, teaching := examplePage(t, "rec", 10*ms), exampleTeachingPage("taught", uneven(9))
	report.Recordings[0].WaveRate, teaching.Recordings[0].Sound.WaveRate = 1, 1
	if err := report.Write(io.Discard); err == nil || !strings.Contains(err.Error(), "sound of recording rec00: writing WAV") {
		t.Errorf("report: %v", err)
	}
	if err := teaching.Write(io.Discard); err == nil || !strings.Contains(err.Error(), "sound of recording taught: writing WAV") {
		t.Errorf("teaching page: %v", err)
	}
}

// The tables of a page are those of the first run, under its name, and of several runs
// one with their headlines.
func TestTablesOfPage(t *testing.T) {
	one, two := examplePage(t, "rec", 10*ms), examplePage(t, "rec", 10*ms, 40*ms)
	list := two.tables()
	if len(list) != len(one.tables())+1 || len(list) != len(two.Runs[0].Summary.Tables())+1 {
		t.Errorf("%d tables of one run, %d of two", len(one.tables()), len(list))
	}
	for _, table := range list[:len(list)-1] {
		if !strings.HasPrefix(table.Title, "rec run 0: ") {
			t.Errorf("table %s has the title %q", table.Name, table.Title)
		}
	}
	runs := list[len(list)-1]
	var b bytes.Buffer
	if err := runs.Write(&b, tabular.CSV); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || runs.Name != "runs" || len(rows) != 3 || rows[0][0] != "run" || rows[1][0] != "rec run 0" || rows[2][0] != "rec run 1" {
		t.Fatalf("%v, %v", rows, err)
	}
	for i, run := range two.Runs {
		at := slices.Index(rows[0], "f1_percent")
		if want := run.Summary.HeadlineRow.F1.Percent(); at < 0 || rows[i+1][at] != want {
			t.Errorf("%s: %v, want F1 %s", run.Name, rows[i+1], want)
		}
	}
	html := written(t, two)
	for _, name := range []string{"scores", "strata", "timing", "agreement", "runs", "wilson", "exchange", "cycles"} {
		if n := strings.Count(html, `id="`+name+`-table"`); n != 1 {
			t.Errorf("table %s is in the page %d times", name, n)
		}
	}
}

// The policy of a page lets it run its own script and nothing else.
func TestPolicy(t *testing.T) {
	d := newDocument("A title")
	text := strings.TrimSuffix(strings.TrimPrefix(string(d.Script), "<script>"), "</script>")
	digest := sha256.Sum256([]byte(text))
	want := "default-src 'none'; img-src data:; media-src data:; style-src 'unsafe-inline'; script-src 'sha256-" +
		base64.StdEncoding.EncodeToString(digest[:]) + "'; base-uri 'none'; form-action 'none'"
	if d.Policy != want || d.PageTitle != "A title" || d.Caution != caution || len(text) < 1000 {
		t.Errorf("policy %q, want %q", d.Policy, want)
	}
}
