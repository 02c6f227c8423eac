package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// All commands that print or write a table as comma-separated values follow one rule:
// names in lower case that end with the unit, numbers that every program reads, empty
// cells for what is missing, an interval in columns named low and high, and counts of
// events in the rows that they belong to.
func TestEveryCSV(t *testing.T) {
	inTinyFolder(t)
	tables := t.TempDir()
	printed := map[string]string{}
	for name, line := range map[string]string{
		"score":              "score --states peaks --resamples 20 --overwrite --out " + filepath.Join(tables, "scored") + " --table csv",
		"compare":            "compare --results exact --results late --results peaks --resamples 20 --against late --table csv",
		"compare, all pairs": "compare --results exact --results late --resamples 20 --table csv",
		"differences":        "compare --results exact --results late --resamples 20 --table csv --differences",
		"across":             "compare --across --results exact --results peaks --resamples 20 --table csv",
		"audit":              "audit --results peaks --table csv",
		"leakage":            "leakage --tables peaks --resamples 20 --by sex --folds 3 --table csv",
		"report":             "report --results exact --results peaks --out " + filepath.Join(tables, "page.html") + " --tables " + tables,
	} {
		status, stdout, stderr := call(t, strings.Fields(line)...)
		if status != 0 {
			t.Fatalf("%s: %s", line, stderr)
		}
		printed[name] = stdout
	}
	delete(printed, "report")
	paths, err := filepath.Glob(filepath.Join(tables, "*.csv"))
	if err != nil || len(paths) < 8 {
		t.Fatalf("tables of the report: %v, %v", paths, err)
	}
	for _, path := range paths {
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		printed[filepath.Base(path)] = string(content)
	}
	for name, text := range printed {
		checkCSV(t, name, parsed(t, text))
	}
}

var (
	csvName = regexp.MustCompile(`^[a-z0-9]+(_[a-z0-9]+)*$`)
	csvUnit = regexp.MustCompile(`_(percent|points|fraction)$`)
	ratio   = regexp.MustCompile(`(^|_)(recall|precision|f1|difference)(_|$)`)
	isWord  = regexp.MustCompile(`^(run|method|against|first|second|better|sounds|average|anchor|label|value|data_set|data_set_version|reference|selection|provenance|segmented_by|` +
		`recording|person|reason|evidence|file_and_line|place|quantity|error|annotated|sex|feature)$`)
)

func checkCSV(t *testing.T, table string, rows [][]string) {
	t.Helper()
	header := rows[0]
	for i, name := range header {
		if !csvName.MatchString(name) || slices.Index(header, name) != i {
			t.Errorf("%s: column %q in %v", table, name, header)
		}
		if ratio.MatchString(name) && !csvUnit.MatchString(name) {
			t.Errorf("%s: column %s does not say percent, points or fraction", table, name)
		}
		if low := strings.Replace(name, "_high", "_low", 1); low != name && slices.Index(header, low) != i-1 {
			t.Errorf("%s: %s does not follow %s", table, name, low)
		}
	}
	for _, row := range rows[1:] {
		for i, cell := range row {
			if strings.ContainsAny(cell, "−–") {
				t.Errorf("%s: %s is %q, which is not ASCII", table, header[i], cell)
			}
			if _, err := strconv.ParseFloat(cell, 64); !isWord.MatchString(header[i]) && cell != "" && (err != nil || cell[0] == '+') {
				t.Errorf("%s: %s is %q, want a number", table, header[i], cell)
			}
		}
		if at, tp := slices.Index(header, "average"), slices.Index(header, "tp"); at >= 0 && tp >= 0 && (row[at] == "pooled") != (row[tp] != "") {
			t.Errorf("%s: counts of events in %v", table, row)
		}
	}
}
