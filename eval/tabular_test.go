package eval

import (
	"bytes"
	"encoding/csv"
	"flag"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/eval/tabular"
)

var updateTables = flag.Bool("update-tables", false, "write the tables of testdata/eval/tables anew")

// tables are results with names that a format could take for its own marks.
func tables() map[string]func(io.Writer, tabular.Format) error {
	nasty := `10 % & a_b|c {x} \ "q", $1 #2 ~^<>*` + "`"
	score := Score{
		Class: Both, Anchor: Centre, ToleranceMS: 60, People: 12, Recordings: 40, Recall: 0.9123, Precision: 0.8, F1: 0.8525,
		Intervals: &RatioIntervals{
			Recall:    Intervals{Percentile: Bounds{0.9, 0.93}, BCa: Bounds{0.89, 0.92}},
			Precision: Intervals{Percentile: Bounds{0.7, 0.9}, BCa: noBounds()},
			F1:        Intervals{noBounds(), noBounds()},
		},
	}
	few := score
	few.Stratum, few.People, few.Intervals, few.Recall, few.Precision, few.F1 = "site="+nasty, 3, nil, null(), null(), null()
	hidden := score // a sound of a stratum is not in the table
	hidden.Stratum, hidden.Class = "site=AV", S1
	rules := DefaultRules()
	summary := &Summary{Rules: rules.summary(), Resamples: 2000, Statistics: Statistics{Scores: Scores{score, few, hidden}}}

	pair := Pair{First: nasty, Second: "hmm", Test: SignedRank{P: 0.00001}, AdjustedP: 0.03, Better: "hmm"}
	for aggregate := range Aggregate(aggregates) {
		pair.Differences = append(pair.Differences, Difference{Class: Both, Aggregate: aggregate, First: 0.9, Second: 0.92, Difference: 0.02, Low: -0.01, High: 0.05})
	}
	comparison := &Comparison{Rules: rules.summary(), People: 12, Recordings: 40, Resamples: 2000, Pairs: []Pair{pair}}

	audit := &Audit{Recordings: 9, Flagged: 1, Findings: []Finding{{Recording: "a_1", Person: "p", Reason: Gaps, At: 1500 * ms, Count: 2, Evidence: nasty, Place: "x.tsv:3"}}}
	return map[string]func(io.Writer, tabular.Format) error{
		"scores": summary.WriteTable, "comparison": comparison.WriteTable, "audit": audit.WriteTable,
	}
}

// checkText compares a text with a file that a person has read, or writes the file.
func checkText(t *testing.T, path string, got []byte) {
	t.Helper()
	if *updateTables {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s (− want, + got):\n%s", path, d)
	}
}

// The files of testdata/eval/tables were read by a person and hold what each
// format needs escaped.
func TestTablesForPapers(t *testing.T) {
	for name, write := range tables() {
		for _, format := range append(tabular.FileFormats, tabular.HTML, tabular.Text) {
			var b bytes.Buffer
			if err := write(&b, format); err != nil {
				t.Fatal(err)
			}
			checkText(t, filepath.Join("..", "testdata", "eval", "tables", name+format.Extension()), b.Bytes())
		}
	}
}

// Whatever names hold, a row has as many cells as the header.
func TestTablesKeepTheirCellsApart(t *testing.T) {
	separators := map[tabular.Format]*regexp.Regexp{tabular.Markdown: regexp.MustCompile(`(^|[^\\])\|`), tabular.LaTeX: regexp.MustCompile(`[^\\]&`)}
	for name, write := range tables() {
		var b bytes.Buffer
		if err := write(&b, tabular.CSV); err != nil {
			t.Fatal(err)
		}
		if rows, err := csv.NewReader(&b).ReadAll(); err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows: %v", name, len(rows), err)
		}
		for format, separator := range separators {
			b.Reset()
			if err := write(&b, format); err != nil {
				t.Fatal(err)
			}
			cells := map[int]bool{}
			for line := range strings.Lines(b.String()) {
				if strings.HasPrefix(line, "|") || strings.HasSuffix(line, "\\\\\n") {
					cells[len(separator.FindAllString(line, -1))] = true
				}
			}
			if len(cells) != 1 {
				t.Errorf("%s as %s: rows of %v separators", name, format, cells)
			}
		}
	}
	if err := new(Audit).WriteTable(io.Discard, "word"); err == nil || !strings.Contains(err.Error(), "latex") {
		t.Errorf("an unknown format: %v", err)
	}
}
