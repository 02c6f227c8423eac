package pages

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
)

// sounds counts what the table matches of a run says of a recording at the headline.
type sounds struct{ right, wrong, missed int }

func soundsOf(t *testing.T, folder string) map[string]*sounds {
	t.Helper()
	counts := map[string]*sounds{}
	for m, err := range table.ReadParts[table.Match](table.PartsOf[table.Match](folder)) {
		if err != nil {
			t.Fatal(err)
		}
		n := counts[m.Recording]
		if n == nil {
			n = &sounds{}
			counts[m.Recording] = n
		}
		switch {
		case m.Outcome == eval.TruePositive.String() && m.Origin == table.Reference:
			n.right++
		case m.Outcome == eval.FalsePositive.String():
			n.wrong++
		case m.Outcome == eval.FalseNegative.String():
			n.missed++
		}
	}
	return counts
}

// The page shows the counts of the tables, the recordings in their groups, and the
// names of the data set as text.
func TestReportContent(t *testing.T) {
	folder := demoRun(t, "shannon-peaks")
	page, err := Report(context.Background(), ReportOptions{Results: []string{folder}, Names: []string{"the <run>"}, Inputs: []config.Input{demoInput(t)}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := page.Write(&b); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	counts := soundsOf(t, folder)
	var all sounds
	for _, n := range counts {
		all.right, all.wrong, all.missed = all.right+n.right, all.wrong+n.wrong, all.missed+n.missed
	}
	h := page.Runs[0].Summary.HeadlineRow
	if h.TP != all.right || h.FP != all.wrong || h.FN != all.missed || len(counts) != 10 || all.right < 50 || all.missed < 5 {
		t.Errorf("summary %d, %d and %d, table %+v of %d recordings", h.TP, h.FP, h.FN, all, len(counts))
	}
	for _, want := range []string{
		"10 recordings: 9 scored, 1 failed (all their sounds count as missed), 0 excluded (no usable reference). 6 people.",
		"Ten &lt;b&gt;recordings&lt;/b&gt; &amp; no more", "the &lt;run&gt;", "10 in = 9 done + 1 failed + 0 excluded",
		"<th scope=\"row\">t4_mitral</th><td>failed</td><td>recordings/t4_mitral.wav: not a WAV file",
		"<dt>Method</dt><dd>shannon-peaks, peaks of the normalised average Shannon energy</dd>", "<p><strong>Segmented by shannon-peaks, not fitted; 1 of 10 recordings failed.</strong></p>", "<dt>Cost</dt><dd>processor time: ", "References that deserve a second look, reference states: 1 of 10",
		"Reason: exchanged, by heart rate",
	} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	checkPageData(t, html, counts)
	for _, bad := range []string{"<b>recordings", "the <run>"} {
		if strings.Contains(html, bad) {
			t.Errorf("the page has %q as markup", bad)
		}
	}
	for _, figure := range []string{"tolerance", "strata", "deltas", "confusion", "rate-agreement", "systole-agreement", "recording-1-1", "recording-2-2", "recording-3-3"} {
		if n := strings.Count(html, `<title id="`+figure+`-title">`); n != 1 {
			t.Errorf("figure %s is there %d times", figure, n)
		}
	}
	if n := strings.Count(html, `src="data:audio/wav;base64,`); n != 9 {
		t.Errorf("%d sounds, want 3 groups of 3, of which one also has a reference to review", n)
	}
	var shown []string
	for _, m := range regexp.MustCompile(`<h4>Recording (\w+)</h4>`).FindAllStringSubmatch(html, -1) {
		shown = append(shown, m[1])
	}
	if len(shown) != 9 || shown[6] != "t6_mitral" || slices.Contains(shown, "t4_mitral") {
		t.Errorf("shown %v, want t6_mitral as the worst, and t4_mitral never", shown)
	}
	if g := page.Groups[len(page.Groups)-1]; g.Title != "Reason: exchanged, by heart rate" || len(g.Recordings) != 1 || page.Recordings[g.Recordings[0]].Recording != "t6_mitral" {
		t.Errorf("the last group is %+v, want t6_mitral as a reference to review", g)
	}

	// What stands above a figure is what the tables say.
	for _, g := range page.Groups {
		for _, at := range g.Recordings {
			v := &page.Recordings[at]
			n, facts := counts[v.Recording], map[string]string{}
			for _, f := range v.Facts {
				facts[f.Name] = f.Value
			}
			if want := fmt.Sprintf("%d of %d sounds", n.right, n.right+n.missed); facts["detected"] != want {
				t.Errorf("%s: detected %s, want %s", v.Recording, facts["detected"], want)
			}
			person, site, _ := strings.Cut(v.Recording, "_")
			if facts["false positives"] != fmt.Sprint(n.wrong) || facts["person"] != person || facts["site"] != site {
				t.Errorf("%s: %v, want %+v", v.Recording, facts, *n)
			}
			if _, marked := facts["note"]; marked != (v.Recording == "t6_mitral") {
				t.Errorf("%s: note %q", v.Recording, facts["note"])
			}
			if (v.Recording == "t6_mitral") != strings.HasPrefix(facts["evidence"], "S1 to S2 takes ") {
				t.Errorf("%s in %s: evidence %q", v.Recording, g.Title, facts["evidence"])
			}
		}
	}
	for i, want := range []string{"Best", "Median", "Worst"} {
		if g := page.Groups[i]; g.Title != want || len(g.Recordings) != 3 {
			t.Errorf("group %d is %s of %d", i, g.Title, len(g.Recordings))
		}
	}
}

// checkPageData makes sure that what the script of a page reads of each recording is
// what the tables say.
func checkPageData(t *testing.T, html string, counts map[string]*sounds) {
	t.Helper()
	_, rest, _ := strings.Cut(html, `<script type="application/json" id="page-data">`)
	text, _, found := strings.Cut(rest, "</script>")
	var data struct {
		Labels     []struct{ Name string }
		Recordings []struct {
			ID, Person, Status, Reason, Article string
			TP, FP, FN                          int
			Labels                              []int
			States                              []string
		}
	}
	if err := json.Unmarshal([]byte(text), &data); !found || err != nil {
		t.Fatalf("no data in the page: %v", err)
	}
	if len(data.Recordings) != len(counts) {
		t.Errorf("%d recordings, want %d", len(data.Recordings), len(counts))
	}
	for _, r := range data.Recordings {
		n := counts[r.ID]
		if n == nil || r.TP != n.right || r.FP != n.wrong || r.FN != n.missed || !strings.HasPrefix(r.ID, r.Person+"_") {
			t.Errorf("%+v, want %+v", r, n)
		}
		if failed := r.ID == "t4_mitral"; failed != (r.Status == "failed") || failed != strings.Contains(r.Reason, "not a WAV file") || failed != (r.Article == "") {
			t.Errorf("%s: %s, %s, in the page as %q", r.ID, r.Status, r.Reason, r.Article)
		}
		if len(r.States) != 2 || len(r.States[0]) < 40 || len(r.Labels) != len(data.Labels) || len(data.Labels) < 3 {
			t.Errorf("%s: %d tracks, %d of %d labels", r.ID, len(r.States), len(r.Labels), len(data.Labels))
		}
	}
}

// Of nine recordings with F1 of 0.9, 0.8 … the first, the middle and the last three
// are shown; failed ones and those without sounds are not.
func TestExamplesOfScores(t *testing.T) {
	d := &report.Details{Recordings: []report.ScoredRecording{{Recording: "failed", Failed: true, Events: 9, FN: 9}, {Recording: "silent", FP: 3}}}
	for i := range 9 { // not in order
		k := (i * 4) % 9
		d.Recordings = append(d.Recordings, report.ScoredRecording{Recording: fmt.Sprint("r", k), Events: 10, TP: 9 - k, FN: 1 + k})
	}
	d.Recordings = append(d.Recordings, report.ScoredRecording{Recording: "longer", Events: 20, TP: 18, FN: 2}) // as good as r0
	var got []string
	for _, g := range examplesOfScores(d) {
		got = append(got, g.title+": "+strings.Join(g.ids, " "))
	}
	want := []string{"Best: longer r0 r1", "Median: r3 r4 r5", "Worst: r8 r7 r6"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	d.Recordings = d.Recordings[:4]
	if list := examplesOfScores(d); len(list) != 1 || list[0].title != "Recordings" || len(list[0].ids) != 1 {
		t.Errorf("of two scores: %+v", list)
	}
}

// A recording is shown for its most serious reason, two for each.
func TestExamplesOfAudit(t *testing.T) {
	a := &eval.Audit{ByReason: map[string]int{eval.Gaps.String(): 4, eval.OutOfRange.String(): 1}}
	for _, id := range []string{"a", "b", "c", "d"} {
		a.Findings = append(a.Findings, eval.Finding{Recording: id, Reason: eval.Gaps, Evidence: "gap of " + id})
	}
	a.Findings = append(a.Findings, eval.Finding{Recording: "a", Reason: eval.OutOfRange, Evidence: "range of a"})
	list := examplesOfAudit(a)
	if len(list) != 2 || list[0].title != "Reason: out of range" || !slices.Equal(list[0].ids, []string{"a"}) || !slices.Equal(list[1].ids, []string{"b", "c"}) {
		t.Errorf("%+v", list)
	}
	if want := "Shown: 2 of the recordings with this reason, 4 in all."; list[1].why != want || list[1].evidence["b"] != "gap of b" {
		t.Errorf("%+v, want %q", list[1], want)
	}
}

// The teaching page shows the recording that was asked for, with its own durations.
func TestTeachingPageOfARecording(t *testing.T) {
	c := config.Default()
	c.Inputs = []config.Input{demoInput(t)}
	page, err := Explain(context.Background(), c, ExplainOptions{Recordings: []string{"t3_mitral"}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := page.Write(&b); err != nil {
		t.Fatal(err)
	}
	html := b.String()
	rate := regexp.MustCompile(`<h3>t3_mitral</h3>\s*<p class="answer">(\d+) beats per minute\. States: the reference annotation of the data set\.</p>`).FindStringSubmatch(html)
	if rate == nil || rate[1] < "105" || rate[1] > "115" {
		t.Errorf("heart rate %v, want about 110", rate)
	}
	if strings.Contains(html, "<b>recordings") || strings.Count(html, `<title id="average-1-title">`) != 1 || strings.Count(html, `<title id="stretch-1-title">`) != 1 || !strings.Contains(html, "Ten &lt;b&gt;recordings&lt;/b&gt; &amp; no more 1") {
		t.Error("markup in the title, or a figure is missing")
	}
	if r := page.Recordings[0]; r.Length.Seconds() != 10 || !strings.Contains(html, `data-seconds="5"`) {
		t.Errorf("%v long", r.Length)
	}
}
