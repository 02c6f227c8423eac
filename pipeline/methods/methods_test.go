package methods

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"phonocycle/eval"
	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
)

// Every method and every built-in run configuration is described within the width of a
// screen, with its citation, and in JSON with a value and a source for each option.
func TestDescriptions(t *testing.T) {
	for _, name := range append(names(), config.Names()...) {
		d, err := Describe(name)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := d.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{name + ": ", d.Title, "doi:" + d.DOI, "Accepted: ", "Source: "} {
			if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
				t.Errorf("%s lacks %q in\n%s", name, want, b.String())
			}
		}
		for line := range strings.Lines(b.String()) {
			if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > 100 {
				t.Errorf("%s: a line of %d columns: %s", name, n, line)
			}
		}
		for _, o := range append(d.Options, d.FitOptions...) {
			if o.Meaning == "" || o.Range == "" || o.Source == "" || len(o.Default) == 0 || len(o.Value) == 0 {
				t.Errorf("%s: %+v", name, o)
			}
			if o.Memory != strings.Contains(o.Source, "from memory") || o.Memory && o.Paper == nil && !strings.HasSuffix(o.Key, "-rate") {
				t.Errorf("%s: %s is from %s", name, o.Key, o.Source)
			}
		}
	}
}

// A run configuration shows its own values beside the defaults, and departs from its
// paper nowhere that it says otherwise.
func TestDescribeConfiguration(t *testing.T) {
	d, err := Describe("springer-2016")
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]Option{}
	for _, o := range append(d.Options, d.FitOptions...) {
		values[o.Key] = o
		if o.Differs {
			t.Errorf("%s differs from the paper", o.Key)
		}
	}
	if o := values["temper"]; string(o.Value) != "1" || string(o.Default) != "0.5" || *o.Low != 0.001 || *o.High != 1 {
		t.Errorf("temper %+v", o)
	}
	if o := values["rhythm"]; string(o.Value) != `"autocorrelation"` || len(o.Words) != 2 {
		t.Errorf("rhythm %+v", o)
	}
	if o := values["min-rate"]; o.Low != nil || o.Range != "10 to below max-rate" {
		t.Errorf("min-rate %+v", o)
	}
	if c := d.Configuration; c == nil || c.Model != "springer-2016" || c.Title == "" || c.Paper == "" || len(c.Differs) == 0 {
		t.Errorf("configuration %+v", c)
	}
	var b bytes.Buffer
	if err := d.WriteText(&b); err != nil || !strings.Contains(b.String(), "temper = 1 (default of the method: 0.5)") {
		t.Errorf("%v\n%s", err, b.String())
	}
}

func TestDescribeFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mine.yaml")
	text := "title: Mine\ncitation: Käßner 2020, 5 % more\nmethod: duration-hmm\noptions: {timing: {s1-s: 0.1}}\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	d, err := Describe(path)
	if err != nil {
		t.Fatal(err)
	}
	if o := d.Options[3]; o.Key != "timing.s1-s" || string(o.Value) != "0.1" || string(o.Default) != "0.122" || !o.Differs {
		t.Errorf("%+v", o)
	}
	got, err := BibTeX(path)
	if err != nil || !strings.Contains(got, "@article{schmidt2010,") || !strings.Contains(got, `note = {K{\"a}{\ss}ner 2020, 5 \% more}`) {
		t.Errorf("%v\n%s", err, got)
	}
	if _, err := Describe("mine"); err == nil || !strings.Contains(err.Error(), "as in ./mine.yaml") {
		t.Errorf("error %v", err)
	}
}

// crossValidation is a plan and a summary as crossval leaves them.
func crossValidation(t *testing.T) *results {
	t.Helper()
	c := config.Default()
	c.Method = "duration-hmm"
	if err := c.SetOptions([]string{"max-rate=180", "hypotheses=1"}); err != nil {
		t.Fatal(err)
	}
	m, err := c.LoadFit()
	if err != nil {
		t.Fatal(err)
	}
	rules := eval.DefaultRules()
	rules.Reference = "states"
	summary := eval.NewAccumulator(rules, eval.Options{}).Summary()
	summary.Counts = eval.Counts{In: 12, Scored: 9, Failed: 1, Excluded: 2, People: 7, ByReason: []eval.ReasonCount{{Reason: "no reference annotation", Count: 2}}}
	return &results{
		plan: &rundir.Plan{
			Tool: "phonocycle 9.9.9", Config: c, Options: m.Options, FitOptions: m.FitOptions, Origin: eval.CrossValidated, MethodTitle: m.Title,
			DataSets:  []rundir.DataSet{{Name: "circor", Title: "CirCor", Version: "1.0.3", Recordings: 12, Listed: 20}},
			Selection: []rundir.Selection{{Of: "people", Name: "girls", Digest: "abcdef0123456789"}}, Digest: "0123456789abcdef",
		},
		summary: summary, method: &m.Method,
	}
}

func TestParagraph(t *testing.T) {
	r := crossValidation(t)
	got, err := r.paragraph()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"The recordings were segmented by the method duration-hmm (duration-dependent hidden Markov model on the homomorphic envelope; Schmidt et al. 2010) of phonocycle 9.9.9.",
		"All options for which the paper gives no value had the default values of the program.",
		"These options departed from Schmidt et al. 2010: the highest heart rate of the search, max-rate = 180 per minute (in the paper 120). (These values of the paper are from memory: check them against the print.)",
		"It was cross-validated: the people were split into 10 folds (seed 1), and each recording was segmented by a model that was fitted to people of the other folds only.",
		"The data were the CirCor, version 1.0.3: 12 recordings.",
		"They are a part of the 20 recordings there are: the people of the list girls (digest abcdef012345).",
		"Of 12 recordings, 10 of 7 people entered the scores. The method gave no segmentation for 1 of them; all their reference sounds count as missed. Recordings left out of the scores: no reference annotation (2).",
		`The scores are against the reference "states" of the data.`, "if its centre lay within 60 ms (inclusive)",
		"Confidence intervals (95 %) come from a bootstrap over people (BCa, 2000 resamples, seed", "The digest of the plan is 0123456789ab.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q in\n%s", want, got)
		}
	}

	// Models of a file, people left out, and states of another program.
	r = crossValidation(t)
	r.plan.Origin, r.plan.TrainedOn, r.plan.TrainingOverlap = eval.FittedElsewhere, eval.TrainedOn{DataSet: "Set 2", People: 5, Recordings: 8}, 3
	want := "Its parameters were fitted beforehand to 8 recordings of 5 people of the Set 2. The data hold 3 people of them, left out of the scores."
	if got, err := r.paragraph(); err != nil || !strings.Contains(got, want) {
		t.Errorf("%v: lacks %q in\n%s", err, want, got)
	}
	r.method, r.plan.Config.Method, r.plan.Origin, r.plan.Declared, r.plan.TrainingOverlap = nil, "theirs", eval.MadeElsewhere, eval.CrossValidated, 0
	want = "The segmentation was made by another program (theirs) and read by phonocycle 9.9.9."
	if got, err := r.paragraph(); err != nil || !strings.HasPrefix(got, want) || !strings.Contains(got, "That program is declared as cross-validated, 10 folds by person.") {
		t.Errorf("%v: lacks %q in\n%s", err, want, got)
	}

	// A plan has its lists over several lines, which makes no difference.
	conv, err := segment.Lookup("conv-hsmm")
	if err != nil {
		t.Fatal(err)
	}
	r = crossValidation(t)
	r.method, r.plan.Config.Method, r.plan.FitOptions = &conv, conv.Name, nil
	r.plan.Options = json.RawMessage("{\"architecture.dilations\": [\n 1,\n 2, 4, 8, 16, 32, 64]}")
	if got, err = r.paragraph(); err != nil || !strings.Contains(got, "All options had the default values") {
		t.Errorf("%v: a list of its default values: %s", err, got)
	}

	// A program's options are listed as they are; a plan that was not scored says so.
	r = crossValidation(t)
	r.method, r.summary = nil, nil
	r.plan.Config.Method, r.plan.MethodDigest, r.plan.MethodTitle, r.plan.Options = "mine", "sha256:1234567890", "", json.RawMessage(`{"threshold":0.4}`)
	got, err = r.paragraph()
	for _, want := range []string{"by the method mine, a program with the digest sha256:1234", "Its options were threshold = 0.4.", "The segmentation was not scored."} {
		if err != nil || !strings.Contains(got, want) {
			t.Errorf("%v: lacks %q in\n%s", err, want, got)
		}
	}
}

// A data set with publications and a DOI of its own is cited with both, one that is
// cited by a text with the text.
func TestDataSetEntries(t *testing.T) {
	m, err := segment.Lookup("duration-hmm")
	if err != nil {
		t.Fatal(err)
	}
	for want, s := range map[string]rundir.DataSet{
		"article misc": {Name: "circor", Title: "CirCor", Version: "1.0.3", Citation: "x", DOI: "10.13026/tshs-mw03", Publications: []citation.Work{m.Paper}},
		"article":      {Name: "circor", Title: "CirCor", Citation: "x", DOI: m.Paper.DOI, Publications: []citation.Work{m.Paper}},
		"misc":         {Name: "mine", Title: "Mine", Citation: "Nobody 2020"},
		"":             {Name: "plain", Title: "Folder", Citation: "not stated"},
	} {
		var kinds []string
		for _, e := range dataSetEntries(&s) {
			kinds = append(kinds, e.Kind)
		}
		if got := strings.Join(kinds, " "); got != want {
			t.Errorf("%+v: %s, want %s", s, got, want)
		}
	}
}
