package report

import (
	"bytes"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

// exampleStudy is a study of two methods in two columns under noise and clipping, with
// a cell that has no scores. All names hold name.
func exampleStudy(t testing.TB, name string) *eval.Study {
	t.Helper()
	rules := eval.DefaultRules()
	scorer, err := eval.NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	h := eval.StudyHeader{
		Title: "Study " + name, Digest: name, Version: name, Methods: []string{name + " peaks", name + " hmm"}, Columns: []string{name + " a", name + " b"},
		Conditions: []string{"", "noise=pink,snr=0", "noise=pink,snr=10", "clip=0.1"},
	}
	var runs []eval.StudyRun
	var faults []eval.StudyFault
	for _, column := range h.Columns {
		for k, condition := range h.Conditions {
			for m, method := range h.Methods {
				id := strings.Join([]string{column, method, condition}, "/")
				if column == h.Columns[1] && k == 3 && m == 1 {
					faults = append(faults, eval.StudyFault{Cell: id, Method: method, Column: column, Condition: condition, Reason: name})
					continue
				}
				acc := eval.NewAccumulator(rules, eval.Options{Resamples: 200, Seed: 1})
				for i := range 12 {
					sounds := cycles(300*ms, 0, 10)
					c := eval.Case{
						Recording: fmt.Sprintf("%s%02d", name, i), Person: fmt.Sprintf("%s p%d", name, i), Length: 9 * time.Second,
						Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: sounds}, Predicted: sounds[:max(len(sounds)-4*k-2*i*(2-m), 0)],
					}
					if i == 11 {
						c.Predicted = nil
					}
					r := scorer.Score(&c)
					acc.Add(&r)
				}
				runs = append(runs, eval.StudyRun{
					Run:  eval.Run{Name: method, Results: acc, DataSet: name, Version: name, Cost: float64(1 + m), Provenance: eval.Provenance{Method: name, Origin: eval.NotFitted}},
					Cell: id, Column: column, Condition: condition, Digest: fmt.Sprintf("digest-%d", len(runs)),
				})
			}
		}
	}
	s, err := eval.NewStudy(h, runs, faults, eval.Options{Resamples: 200, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func studyHTML(t testing.TB, s *eval.Study) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteStudy(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestStudyPageContent(t *testing.T) {
	s := exampleStudy(t, "x")
	page := studyHTML(t, s)
	for _, want := range []string{
		caution, "Study x", "Content-Security-Policy", "2 methods, 2 columns", "15 cells with scores, 1 without",
		`id="overview-table"`, `id="faults-table"`, `id="conditions-1-table"`, `id="changes-2-table"`, `id="losses-2-table"`, `id="ranks-1-table"`, `id="pairs-1-table"`, `id="failing-1-table"`,
		`id="noise-1-1-title"`, `id="noise-2-1-title"`, `id="cost-1-title"`, `id="conditions-1-title"`, "x peaks (x), x hmm (x): not fitted", "digest-14", "1 of 12 recordings.", "Rules of x a, x b",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if n := strings.Count(page, "most pairs first, then least total distance"); n != 2 { // below the table and among the rules
		t.Errorf("the rule of matching stands %d times", n)
	}
	if page != studyHTML(t, exampleStudy(t, "x")) {
		t.Error("the same study gives another page")
	}
}

// Without conditions, costs or a second method what depends on them is left out.
func TestSmallStudyPage(t *testing.T) {
	s := exampleStudy(t, "x")
	all := s.Cells
	s = s.In("x a")
	s.Header.Conditions, s.Header.Methods = []string{""}, s.Header.Methods[:1]
	s.Cells, s.Losses, s.Ranks, s.Pairs = all[:1], nil, nil, nil
	s.Cells[0].Cost = nothing
	page := studyHTML(t, s)
	for _, id := range []string{"noise", "cost", "conditions", "losses"} {
		if strings.Contains(page, `id="`+id) || strings.Contains(page, `href="#`+id) {
			t.Errorf("the page has a section %q", id)
		}
	}
	if !strings.Contains(page, "there are no ranks") {
		t.Error("the page does not say that there are no ranks")
	}
	if _, err := html.Parse(strings.NewReader(studyHTML(t, &eval.Study{}))); err != nil {
		t.Errorf("a study without cells: %v", err)
	}
}

// Names stay text wherever they stand, ids are unique, links lead somewhere, and nothing
// is loaded.
func TestStudyPageIsWellFormed(t *testing.T) {
	page := studyHTML(t, exampleStudy(t, hostile))
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	ids, scripts := make(map[string]int), 0
	var links []string
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		if n.Data == "script" {
			scripts++
		}
		for _, a := range n.Attr {
			switch {
			case a.Key == "id":
				ids[a.Val]++
			case a.Key == "href" && strings.HasPrefix(a.Val, "#"):
				links = append(links, a.Val[1:])
			case (a.Key == "href" || a.Key == "src" || a.Key == "srcset" || a.Key == "data") && !strings.HasPrefix(a.Val, "data:"):
				t.Errorf("%s loads %s", n.Data, a.Val)
			case strings.HasPrefix(a.Key, "on"):
				t.Errorf("%s has the handler %s", n.Data, a.Key)
			}
		}
	}
	if scripts != 1 {
		t.Errorf("%d script elements, want the page's own", scripts)
	}
	for id, n := range ids {
		if n > 1 {
			t.Errorf("%d elements have the id %q", n, id)
		}
	}
	for _, link := range links {
		if ids[link] == 0 {
			t.Errorf("a link to %q leads nowhere", link)
		}
	}
	if regexp.MustCompile(`url\(|@import`).MatchString(page) {
		t.Error("the style loads something")
	}
	if !strings.Contains(page, "&lt;script&gt;alert(1)") {
		t.Error("the name is not shown at all")
	}
}

func TestStudyPageInBrowser(t *testing.T) {
	browser := startBrowser(t)
	path := filepath.Join(t.TempDir(), "study.html")
	if err := os.WriteFile(path, []byte(studyHTML(t, exampleStudy(t, "x"))), 0o644); err != nil {
		t.Fatal(err)
	}
	address := (&url.URL{Scheme: "file", Path: path}).String()
	ctx, events := open(t, browser, address)
	checkFigures(t, ctx)
	checkWidth(t, ctx)
	checkSchemes(t, ctx)
	checkPrint(t, ctx)
	events.check(t, address)
	checkPolicy(t, ctx) // last, since it makes a request
}
