package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"
)

// TestCommands runs every command to its end, with every one of its flags, and
// looks at what it prints and writes. A flag that no command line here uses fails
// the test; each has a check below that fails where the flag is ignored.
func TestCommands(t *testing.T) {
	inTinyFolder(t)
	c := &commands{used: map[string]bool{}}
	for _, tt := range []struct {
		name string
		run  func(*testing.T, *commands)
	}{
		{"scan", testScan}, {"scan of lists", testScanOfLists}, {"scan of a record", testScanOfRecord}, {"run", testRun}, {"segment", testSegment}, {"extract", testExtract}, {"windows", testWindows}, {"crossval", testCrossval},
		{"score", testScore}, {"fit", testFit}, {"compare", testCompare}, {"audit", testAudit},
		{"leakage", testLeakage}, {"choose", testChoose}, {"csv", testCSV}, {"partition", testPartition}, {"merge", testMerge}, {"synth", testSynth}, {"degrade", testDegrade}, {"study", testStudy}, {"demo", testDemo},
		{"dictionary", testDictionary}, {"methods", testMethods}, {"layout", testLayout}, {"report", testReport}, {"explain", testExplain}, {"completion", testCompletion},
	} {
		t.Run(tt.name, func(t *testing.T) { tt.run(t, c) })
	}
	if strings.Contains(flag.Lookup("test.run").Value.String(), "/") {
		return // only some of the commands were wanted
	}
	for _, cmd := range newRoot().Commands() {
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if name := cmd.Name() + " --" + f.Name; !c.used[name] && f.Name != "help" {
				t.Errorf("no command line of this test has %s", name)
			}
		})
	}
}

// commands runs command lines and remembers the flags in them.
type commands struct{ used map[string]bool }

// run runs a command line, which must end with the given status, and returns
// what it prints.
func (c *commands) run(t *testing.T, want int, line string) (stdout, stderr string) {
	t.Helper()
	args := strings.Fields(line)
	for _, arg := range args {
		if name, isFlag := strings.CutPrefix(arg, "--"); isFlag {
			name, _, _ = strings.Cut(name, "=")
			c.used[args[0]+" --"+name] = true
		}
	}
	status, stdout, stderr := call(t, args...)
	if status != want {
		t.Fatalf("%s: status %d, want %d\n%.500s%s", line, status, want, stdout, stderr)
	}
	return stdout, stderr
}

// A data set is listed with the counts that tinyPeople and writeFlawed give it.
func testScan(t *testing.T, c *commands) {
	type value struct {
		Value              string
		Recordings, People int
	}
	type inventory struct {
		Recordings, Unusable, People, Annotations, S1, S2 int
		Seconds                                           float64 `json:"duration_s"`
		Rates                                             []struct {
			Hz         int `json:"rate_hz"`
			Recordings int
		}
		Labels []struct {
			Name   string
			Values []value
		}
		DefectCounts []struct {
			Kind  string
			Count int
		} `json:"defect_counts"`
		Defects []struct {
			File string
			Line int
		}
	}
	out, _ := c.run(t, 0, "scan --json "+tiny+" "+flawed)
	sets := decoded[[]inventory](t, out)
	if len(sets) != 2 {
		t.Fatalf("%d data sets, want 2", len(sets))
	}
	a, b := &sets[0], &sets[1]
	if a.Recordings != 8 || a.Unusable != 0 || a.People != 6 || a.Seconds != 24 || a.Annotations != 8 || a.S1 != 37 || a.S2 != 34 {
		t.Errorf("tiny: %+v", *a)
	}
	if len(a.Rates) != 1 || a.Rates[0].Hz != 2000 || a.Rates[0].Recordings != 8 || len(a.Defects) != 0 {
		t.Errorf("tiny: rates %+v, defects %+v", a.Rates, a.Defects)
	}
	for _, l := range a.Labels {
		if want := []value{{"female", 5, 3}, {"male", 3, 3}}; l.Name == "sex" && !slices.Equal(l.Values, want) {
			t.Errorf("sex: %v, want %v", l.Values, want)
		}
	}
	if b.Recordings != 8 || b.Unusable != 1 || b.Seconds != 21 || b.Annotations != 7 || b.S1 != 14 || b.S2 != 14 {
		t.Errorf("flawed: %+v", *b)
	}
	if got, want := fmt.Sprint(b.DefectCounts), "[{gap between rows 6} {states out of order 2} {unreadable audio 1}]"; got != want {
		t.Errorf("flawed: defects %s, want %s", got, want)
	}
	if len(b.Defects) != 9 || b.Defects[0].File != "gap0.csv" || b.Defects[0].Line != 5 {
		t.Errorf("flawed: %+v", b.Defects)
	}

	const gap = "starts 50 ms after the row of line 4"
	for flags, want := range map[string]int{"": 5, " --all": 6} {
		if out, _ = c.run(t, 0, "scan "+flawed+flags); strings.Count(out, gap) != want {
			t.Errorf("scan%s lists %d gaps, want %d:\n%s", flags, strings.Count(out, gap), want, out)
		}
	}
	writeFile(t, "scan.yaml", "inputs:\n- {data: flawed, layout: plain}\n")
	if out, _ = c.run(t, 0, "scan --config scan.yaml"); !strings.Contains(out, "recordings      8") || !strings.Contains(out, gap) {
		t.Errorf("with the data in a run configuration:\n%s", out)
	}
	if out, _ = c.run(t, 0, "scan --follow-links "+linked); !strings.Contains(out, "recordings      8") {
		t.Errorf("with --follow-links:\n%s", out)
	}
	c.run(t, 1, "scan "+linked)
	if out, _ = c.run(t, 0, "scan "+tiny+" --channel 2"); !strings.Contains(out, "channel 2 of 1") {
		t.Errorf("--channel 2:\n%s", out)
	}
	out, _ = c.run(t, 0, "scan --json --follow-links --reference second "+twice)
	if second := decoded[[]inventory](t, out); second[0].Recordings != 8 || second[0].Annotations != 1 || second[0].S1 != 3 || second[0].S2 != 3 {
		t.Errorf("--reference second: %+v", second)
	}
}

// What scan prints of a part of a data set is of that part, and it says so.
func testScanOfLists(t *testing.T, c *commands) {
	out := checkLists(t, c, "scan "+tiny)
	for _, want := range []string{"recordings      2 of 8, selected by a list", "people          2\n", "annotations     2, of which 2", "6 recordings are not selected: audio and annotations were not read, and 0 defects"} {
		if !strings.Contains(out, want) {
			t.Errorf("scan with lists lacks %q:\n%s", want, out)
		}
	}
	for line, want := range map[string]string{
		"people":                                       "t1\nt2\nt3\nt4\nt5\nt6\n",
		"people --people lists/some.txt":               "t5\nt6\n",
		"recordings --recordings lists/but.txt":        "t1_aortic\nt1_mitral\nt2_aortic\nt3_mitral\nt4_mitral\nt5_aortic\nt6_aortic\n",
		"recordings --people lists/some.txt " + flawed: "",
	} {
		status := 0
		if want == "" {
			status = 1
		}
		if out, _ := c.run(t, status, "scan "+tiny+" --list "+line); out != want {
			t.Errorf("scan --list %s prints %q, want %q", line, out, want)
		}
	}
	if _, stderr := c.run(t, 1, "scan "+tiny+" --people circor-development"); !strings.Contains(stderr, "circor-development:4: the data have no person") {
		t.Errorf("people of another data set: %s", stderr)
	}
	writeFile(t, "lists/gap.txt", "!gap0\n!text\n")
	if out, _ := c.run(t, 0, "scan "+flawed+" --recordings lists/gap.txt"); strings.Contains(out, "gap0.csv") || strings.Contains(out, "unreadable audio") || !strings.Contains(out, "gap between rows: 5") {
		t.Errorf("scan without two recordings with defects:\n%s", out)
	}
}

// Of a WFDB record with two signals, --channel says which is the sound.
func testScanOfRecord(t *testing.T, c *commands) {
	writeFile(t, "record/r.hea", "r 2 1000 3000\nr.dat 16 1000 16 0 0 0 0 PCG\nr.dat 16 1000 16 0 0 0 0 ECG\n")
	writeFile(t, "record/r.dat", strings.Repeat("\x01\x00\x02\x00", 3000))
	writeFile(t, "record.yaml", `name: record
title: One record
version: "1"
citation: none
licence: none
source: made
audio: {include: ["*.hea"]}
recording: {patterns: ['(?P<id>\w+)\.hea']}
`)
	for flag, want := range map[string]int{"": 1, " --channel 1": 0, " --channel 2": 0, " --channel 3": 1} {
		out, _ := c.run(t, 0, "scan --json --data record --layout record.yaml"+flag)
		if sets := decoded[[]struct{ Recordings, Unusable int }](t, out); sets[0].Recordings != 1 || sets[0].Unusable != want {
			t.Errorf("scan%s: %+v, want %d unusable", flag, sets, want)
		}
	}
}

// printedReport is what a stage prints as JSON.
type printedReport struct {
	Counts   struct{ In, Done, Failed, Excluded int }
	Problems []struct{ Recording, Outcome, Reason string }
	Warnings []string
	Written  []string
	Summary  *printedSummary
}

type printedSummary struct {
	Rules struct {
		Anchor     string
		HeadlineMS float64 `json:"headline_tolerance_ms"`
	}
	Counts          struct{ In, Scored, Failed, Excluded, People int }
	Resamples, Seed int
	Scores          []printedScore
	Headline        printedScore
}

type printedScore struct {
	Class, Anchor, Aggregate, Stratum string
	ToleranceMS                       float64 `json:"tolerance_ms"`
	TP, FP, FN                        int
	F1, Low, High                     float64
}

// testStage tries the flags that all stages with tables have. The command line
// gets the flags of the stage in more. It returns what the stage prints of the six
// recordings of 3 s.
func testStage(t *testing.T, c *commands, name, more string, tables ...string) printedReport {
	dir := name + "-stage"
	writeFile(t, "stage.yaml", "inputs:\n- {data: linked, layout: twice.yaml}\nmin-duration: 5s\nmax-duration: 2s\n")
	line := name + " --config stage.yaml --follow-links --reference second " + more + " --out " + dir +
		" --part-size 4 --folds 3 --fold-seed 5 --min-duration 2.5s --max-duration 3.5s --workers 3 --json"
	out, _ := c.run(t, 0, line)
	r := decoded[printedReport](t, out)
	if r.Counts.In != 8 || r.Counts.Done != 6 || r.Counts.Failed != 0 || r.Counts.Excluded != 2 {
		t.Errorf("%s: %+v", name, r.Counts)
	}
	if len(r.Problems) != 2 || r.Problems[0].Recording != "t3_mitral" || !strings.Contains(r.Problems[0].Reason, "4.000 s") ||
		r.Problems[1].Recording != "t4_mitral" || !strings.Contains(r.Problems[1].Reason, "2.000 s") {
		t.Errorf("%s: excluded %+v, want the longest and the shortest", name, r.Problems)
	}
	var want []string
	for _, file := range append(tables, "plan.json", "manifest.json") {
		want = append(want, dir+"/"+file)
		if _, err := os.Stat(dir + "/" + file); err != nil {
			t.Error(err)
		}
	}
	if !slices.Equal(r.Written, want) {
		t.Errorf("%s: written %v, want %v", name, r.Written, want)
	}
	if parts := files(t, dir+"/recordings"); !slices.Equal(parts, []string{"part-000000.parquet", "part-000001.parquet"}) {
		t.Errorf("%s: eight recordings in parts of four: %v", name, parts)
	}
	// With seed 1 the folds are 1, 1, 1, 2, 0, 2, 2, 0.
	rows := [][]string{
		{"t1", "2", "second", "2.4"}, {"t1", "2", "second", ""}, {"t2", "1", "second", ""}, {"t3", "2", "second", ""},
		{"t4", "0", "second", ""}, {"t5", "0", "second", ""}, {"t5", "0", "second", ""}, {"t6", "1", "second", ""},
	}
	if got := cells(t, dir+"/recordings", "person,fold,reference,annotated_s"); !slices.EqualFunc(got, rows, slices.Equal) {
		t.Errorf("%s --folds 3 --fold-seed 5 --reference second: %v, want %v", name, got, rows)
	}

	// A missing part is made again, and the others stay.
	before := written(t, dir)
	if err := os.Remove(dir + "/" + tables[1] + "/part-000001.parquet"); err != nil {
		t.Fatal(err)
	}
	if _, stderr := c.run(t, 1, line); !strings.Contains(stderr, "--resume") {
		t.Errorf("%s into a folder with results: %s", name, stderr)
	}
	c.run(t, 0, line+" --resume")
	if after := written(t, dir); !equalFiles(before, after) {
		t.Errorf("%s --resume: files differ: %s", name, difference(before, after))
	}
	checkLists(t, c, fmt.Sprintf("%s %s %s --folds 2 --out %s-lists", name, tiny, more, name))
	if got := column(t, name+"-lists/recordings", "recording"); !slices.Equal(got, []string{"t5_aortic", "t6_aortic"}) {
		t.Errorf("%s with lists reads %v", name, got)
	}
	testFaults(t, c, name, more, slices.Contains(tables, "states"))
	testCondition(t, c, name, more)
	return r
}

// testCondition runs a stage over the one recording of 4 s with changed audio.
func testCondition(t *testing.T, c *commands, name, more string) {
	t.Helper()
	dir := name + "-condition"
	out, _ := c.run(t, 0, fmt.Sprintf("%s %s %s --min-duration 3.5s --condition rate=500,noise=pink,snr=5 --condition-seed 7 --out %s", name, tiny, more, dir))
	if !strings.Contains(out, "the audio was changed: rate=500,noise=pink,snr=5 (seed 7)") {
		t.Errorf("%s --condition: the result does not say so:\n%s", name, out)
	}
	for _, row := range cells(t, dir+"/recordings", "recording,rate_hz,outcome") {
		if want := map[bool]string{true: "500", false: "2000"}[row[2] == "done"]; row[1] != want || row[2] == "done" != (row[0] == "t3_mitral") {
			t.Errorf("%s --condition rate=500: %v", name, row)
		}
	}
	if _, stderr := c.run(t, 2, fmt.Sprintf("%s %s %s --condition noise=pink --out none", name, tiny, more)); !strings.Contains(stderr, "needs the key snr") {
		t.Errorf("%s --condition noise=pink: %s", name, stderr)
	}
}

// A copy has the changed audio, says so, and is replaced where that is asked for.
func testDegrade(t *testing.T, c *commands) {
	line := "degrade --follow-links " + linked + " --condition noise=white,snr=10,clip=0.02 --seed 4 --workers 3 --out degrade-copy"
	out, _ := c.run(t, 0, line)
	for _, want := range []string{"audio changed by noise=white,snr=10,clip=0.02 (seed 4)", "8 recordings: 8 changed, 0 copied as they are, 0 not copied", "degrade-copy/condition.json", "not for diagnosis"} {
		if !strings.Contains(out, want) {
			t.Errorf("degrade prints no %q:\n%s", want, out)
		}
	}
	copied := written(t, "degrade-copy")
	if _, stderr := c.run(t, 1, line); !strings.Contains(stderr, "--overwrite") {
		t.Errorf("into a copy: %s", stderr)
	}
	out, _ = c.run(t, 0, strings.Replace(line, "seed 4", "seed 5", 1)+" --overwrite --json")
	printed := decoded[struct {
		Changed, Unchanged, Failed int
		Copy                       struct {
			Complete bool
			Changes  []struct {
				Condition string
				Seed      int
			}
		}
		Written []string
	}](t, out)
	if printed.Changed != 8 || printed.Failed != 0 || !printed.Copy.Complete || printed.Copy.Changes[0].Seed != 5 || !slices.Equal(printed.Written, []string{"degrade-copy"}) {
		t.Errorf("%+v", printed)
	}
	if equalFiles(copied, written(t, "degrade-copy")) {
		t.Error("--seed 5 gives the copy of --seed 4")
	}
	if out, _ = c.run(t, 0, "scan --data degrade-copy --layout tiny/tiny.yaml"); !strings.Contains(out, "audio changed by noise=white,snr=10,clip=0.02 (seed 5)") {
		t.Errorf("scan does not tell the condition:\n%s", out)
	}
	out, _ = c.run(t, 0, "degrade "+tiny+" --condition bits=8 --channel 2 --out degrade-channel")
	if !strings.Contains(out, "8 copied as they are") || !strings.Contains(out, "channel 2 of 1") {
		t.Errorf("--channel 2:\n%s", out)
	}
	for _, tt := range []struct{ args, want string }{
		{tiny + " --condition nose=pink --out none", "did you mean noise?"}, {tiny + " --out none", "no condition"}, {tiny + " --condition bits=8", "--out"},
		{tiny + " " + flawed + " --condition bits=8 --out none", "one data set at a time"}, {tiny + " --condition bits=8 --out tiny/none", "lies in the folder of the data set"},
	} {
		if _, stderr := c.run(t, 2, "degrade "+tt.args); !strings.Contains(stderr, tt.want) {
			t.Errorf("degrade %s: %s, want %q", tt.args, stderr, tt.want)
		}
	}
}

// checkLists runs a command over the tiny data set with lists that select the
// recordings of t5 and t6 but for t5_mitral. It must print how many these are.
func checkLists(t *testing.T, c *commands, line string) (stdout string) {
	t.Helper()
	writeFile(t, "lists/some.txt", "# two people\nt6\nt5\n")
	writeFile(t, "lists/but.txt", "!t5_mitral\n")
	stdout, _ = c.run(t, 0, line+" --people lists/some.txt --recordings lists/but.txt")
	if !strings.Contains(stdout, "2 of 8 recordings selected: people of the list some (digest ") || !strings.Contains(stdout, "recordings of the list but (digest ") {
		t.Errorf("%s with lists:\n%s", line, stdout)
	}
	if _, stderr := c.run(t, 1, line+" --people lists/but.txt"); !strings.Contains(stderr, "lists/but.txt:1: the data have no person \"t5_mitral\", but a recording") {
		t.Errorf("%s with the list of recordings for people: %s", line, stderr)
	}
	return stdout
}

// testFaults tries the flags of a stage with which recordings fail or nothing is done.
// A stage with a method is stopped by the time limit; the others only where a disk
// does not answer.
func testFaults(t *testing.T, c *commands, name, more string, method bool) {
	t.Helper()
	dir := name + "-faults"
	line := fmt.Sprintf("%s %s %s --out %s", name, tiny, more, dir)
	limited, status, want, parts := line+" --time-limit 1ns --part-size 6", 3, "8 failed", []string{"part-000000.parquet", "part-000001.parquet"}
	if name != "crossval" {
		limited, want, parts = limited+" --shard 2/2", "2 failed", parts[1:]
	}
	if !method {
		status, want = 0, "2 done"
	}
	if out, _ := c.run(t, status, limited); !strings.Contains(out, want) || method && !strings.Contains(out, "time limit of 1ns") {
		t.Errorf("%s:\n%s", limited, out)
	}
	if got := files(t, dir+"/recordings"); !slices.Equal(got, parts) {
		t.Errorf("%s: parts %v, want %v", limited, got, parts)
	}
	if plan, err := os.ReadFile(dir + "/plan.json"); err != nil || !strings.Contains(string(plan), `"time_limit": "1ns"`) {
		t.Errorf("%s: the limit is not in the plan: %v", limited, err)
	}
	if out, _ := c.run(t, 3, line+" --channel 2 --overwrite"); !strings.Contains(out, "8 recordings: 0 done, 8 failed") || !strings.Contains(out, "channel 2 of 1") {
		t.Errorf("%s --channel 2 --overwrite:\n%s", line, out)
	}
	c.run(t, 1, fmt.Sprintf("%s %s %s --out none", name, linked, more))
	if _, stderr := c.run(t, 2, fmt.Sprintf("%s %s %s --workers 0 --out none", name, tiny, more)); !strings.Contains(stderr, "workers is 0") {
		t.Errorf("%s --workers 0: %s", name, stderr)
	}
	if _, err := os.Stat("none"); err == nil {
		t.Errorf("%s without data or workers writes something", name)
	}
}

func testRun(t *testing.T, c *commands) {
	r := testStage(t, c, "run", "--method shannon-peaks --option threshold=0.45 --anchor offset --tolerance 40ms --resamples 30 --seed 9 --strata sex",
		"recordings", "states", "cycles", "people", "matches", "scores", "summary.json")
	checkRules(t, r.Summary)
	if n := r.Summary.Counts; n.In != 8 || n.Scored != 1 || n.Failed != 0 || n.Excluded != 7 || n.People != 1 { // one has a reference
		t.Errorf("summary: %+v", n)
	}
	content, err := os.ReadFile("run-stage/summary.json")
	if err != nil {
		t.Fatal(err)
	}
	if file := decoded[printedSummary](t, string(content)); file.Rules != r.Summary.Rules || len(file.Scores) != len(r.Summary.Scores) {
		t.Errorf("printed %+v, in the file %+v", r.Summary.Rules, file.Rules)
	}
	if manifest, err := os.ReadFile("run-stage/manifest.json"); err != nil || !strings.Contains(string(manifest), `"threshold": 0.45`) {
		t.Errorf("--option threshold=0.45 is not in the manifest: %v", err)
	}
	checkWithoutFeatures(t, c, "run "+tiny+" --method shannon-peaks --resamples 50 --part-size 4", "peaks", "run-without")
	checkUnreadTables(t, c, "run "+untold+" --method shannon-peaks --min-duration 3.5s --resamples 20 --out run-untold")
}

// checkWithoutFeatures runs a command that made a folder again without features: the
// scores are the same.
func checkWithoutFeatures(t *testing.T, c *commands, line, with, without string) {
	t.Helper()
	c.run(t, 0, line+" --no-features --out "+without)
	for _, table := range []string{"cycles", "people"} {
		if _, err := os.Stat(filepath.Join(without, table)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s --no-features: table %s: %v", line, table, err)
		}
	}
	want, err := os.ReadFile(filepath.Join(with, "summary.json"))
	got, err2 := os.ReadFile(filepath.Join(without, "summary.json"))
	if err != nil || err2 != nil || string(want) != string(got) {
		t.Errorf("%s --no-features: summaries differ: %v, %v", line, err, err2)
	}
}

// checkRules checks the rules of a scoring with --anchor offset --tolerance 40ms
// --resamples 30 --seed 9 --strata sex.
func checkRules(t *testing.T, s *printedSummary) {
	t.Helper()
	if s.Rules.Anchor != "offset" || s.Rules.HeadlineMS != 40 || s.Resamples != 30 || s.Seed != 9 {
		t.Errorf("rules %+v, %d resamples, seed %d", s.Rules, s.Resamples, s.Seed)
	}
	if s.Headline.Anchor != "offset" || s.Headline.ToleranceMS != 40 {
		t.Errorf("headline %+v", s.Headline)
	}
	for _, score := range s.Scores {
		if score.Stratum != "" && !strings.HasPrefix(score.Stratum, "sex=") {
			t.Errorf("stratum %s, want those of sex alone", score.Stratum)
		}
	}
}

// checkUnreadTables runs a command over the data set without its table of people.
func checkUnreadTables(t *testing.T, c *commands, line string) {
	t.Helper()
	if _, stderr := c.run(t, 1, line); !strings.Contains(stderr, "people.csv") || !strings.Contains(stderr, "--unread-tables") {
		t.Errorf("%s: %s", line, stderr)
	}
	if stdout, _ := c.run(t, 0, line+" --unread-tables accept"); !strings.Contains(stdout, "people.csv") {
		t.Errorf("%s --unread-tables accept: no warning:\n%s", line, stdout)
	}
}

func testSegment(t *testing.T, c *commands) {
	testStage(t, c, "segment", "--method shannon-peaks", "recordings", "states")
	c.run(t, 0, "segment "+tiny+" --method duration-hmm --option hypotheses=3 --max-duration 2.5s --out segment-option")
	if manifest, err := os.ReadFile("segment-option/manifest.json"); err != nil || !strings.Contains(string(manifest), `"hypotheses": 3`) {
		t.Errorf("--option hypotheses=3 is not in the manifest: %v", err)
	}
}

// The cycles of the reference are others than those that a method found.
func testExtract(t *testing.T, c *commands) {
	testStage(t, c, "extract", "--states peaks", "recordings", "cycles", "people")
	c.run(t, 0, "extract "+tiny+" --states peaks --max-duration 2.5s --source reference --out extract-reference")
	got := cells(t, "extract-reference/cycles", "recording,source,start_s,rr_interval_s")
	if want := []string{"t4_mitral", "reference", "0.2175", "0.9095"}; len(got) != 1 || !slices.Equal(got[0], want) { // S1 at 0.2175 and 1.127 s in its file
		t.Errorf("cycles of the reference: %v, want %v", got, want)
	}
}

func testWindows(t *testing.T, c *commands) {
	testStage(t, c, "windows", "--states peaks", "recordings", "windows")
	c.run(t, 0, "windows "+tiny+" --states peaks --source reference --align fixed --length 800ms --hop 600ms --min-duration 3.5s --out windows-fixed")
	var want [][]string // in 4 s, the last window ends at 3.8 s
	for _, start := range []string{"0", "0.6", "1.2", "1.8", "2.4", "3"} {
		want = append(want, []string{"t3_mitral", start, "800", "reference"})
	}
	if got := cells(t, "windows-fixed/windows", "recording,start_s,samples,source"); !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("windows %v, want %v", got, want)
	}
	c.run(t, 0, "windows "+tiny+" --states peaks --align fixed --length 800ms --hop 600ms --min-duration 3.5s --format npy --out windows-npy")
	if got := files(t, "windows-npy"); !slices.Equal(got, []string{"index.csv", "manifest.json", "plan.json", "recordings", "signal.npy", "state.npy", "windows"}) {
		t.Errorf("--format npy writes %v", got)
	}
	if _, stderr := c.run(t, 1, "windows "+tiny+" --states peaks --format numpy --out none"); !strings.Contains(stderr, `format "numpy": want parquet or npy`) {
		t.Errorf("--format numpy: %s", stderr)
	}
	// A common label of the run configuration is a column of all tables.
	writeFile(t, "common.yaml", "labels:\n- name: woman\n  from:\n  - {data-set: tiny, label: sex, codes: {female: yes, male: no}}\n")
	c.run(t, 0, "windows "+tiny+" --states peaks --config common.yaml --out windows-common")
	if got := cells(t, "windows-common/windows", "sex,woman"); !slices.Equal(got[0], []string{"female", "yes"}) || !slices.Equal(got[len(got)-1], []string{"male", "no"}) {
		t.Errorf("the first and the last window have %v and %v", got[0], got[len(got)-1])
	}
}

func testCrossval(t *testing.T, c *commands) {
	r := testStage(t, c, "crossval", "--method shannon-peaks --option threshold=0.45 --folds 3 --anchor offset --tolerance 40ms --resamples 30 --seed 9 --strata sex",
		"recordings", "states", "cycles", "people", "matches", "scores", "summary.json")
	checkRules(t, r.Summary)
	_, stderr := c.run(t, 0, "crossval "+tiny+" --method duration-hmm --folds 3 --most-people 2 --training-overlap leave-out --resamples 20 --out crossval-fits")
	if !strings.Contains(stderr, "fold 3 of 3: S1: mean ") {
		t.Errorf("crossval does not tell how far its fits are: %s", stderr)
	}
	if got := files(t, "crossval-fits/models"); !slices.Equal(got, []string{"fold-00.json", "fold-01.json", "fold-02.json"}) {
		t.Errorf("models %v", got)
	}
	for _, name := range files(t, "crossval-fits/models") {
		content, err := os.ReadFile("crossval-fits/models/" + name)
		if m := decoded[struct{ People []string }](t, string(content)); err != nil || len(m.People) != 2 {
			t.Errorf("--most-people 2: %s is fitted to %v", name, m.People)
		}
	}
	c.run(t, 0, "crossval "+tiny+" --method duration-hmm --folds 3 --most-people 2 --models-from crossval-fits --resamples 20 --out crossval-again")
	checkWithoutFeatures(t, c, "crossval "+tiny+" --method duration-hmm --folds 3 --most-people 2 --models-from crossval-fits --resamples 20", "crossval-again", "crossval-without")
	if a, b := files(t, "crossval-again/models"), files(t, "crossval-fits/models"); !slices.Equal(a, b) {
		t.Errorf("--models-from: models %v, want %v", a, b)
	}
	if _, stderr := c.run(t, 1, "crossval "+tiny+" --method logistic-hsmm --fit-option l2=-1 --folds 3 --out none"); !strings.Contains(stderr, "l2 is -1") {
		t.Errorf("--fit-option l2=-1: %s", stderr)
	}
	checkUnreadTables(t, c, "crossval "+untold+" --method shannon-peaks --folds 3 --min-duration 3.5s --resamples 20 --out crossval-untold")
	if _, stderr := c.run(t, 1, "crossval "+tiny+" --method shannon-peaks --folds 3 --shard 1/2 --out none"); !strings.Contains(stderr, "leave --shard out") {
		t.Errorf("--shard: %s", stderr)
	}
}

// A score is the count of sounds in the files, by the rules that are asked for.
// The reference has 71 sounds; four are cut by an end of their recordings. Of
// t6_aortic, which late.csv lacks, nine are not. All others end 25 ms late.
func testScore(t *testing.T, c *commands) {
	checkHeadline := func(what, out string, tp, fp, fn int) printedReport {
		t.Helper()
		r := decoded[printedReport](t, out)
		if h := r.Summary.Headline; h.TP != tp || h.FP != fp || h.FN != fn {
			t.Errorf("%s: %d, %d and %d right, wrong and missed; want %d, %d and %d", what, h.TP, h.FP, h.FN, tp, fp, fn)
		}
		return r
	}
	source := "score --predictions late.csv --format predictions.yaml "
	out, _ := c.run(t, 3, source+tiny+" --out score-late --anchor offset --tolerance 40ms --resamples 30 --seed 9 --strata sex --json --workers 2")
	r := checkHeadline("late ends within 40 ms", out, 58, 0, 9)
	checkRules(t, r.Summary)
	if r.Counts.Done != 7 || r.Counts.Failed != 1 || len(r.Problems) != 1 || r.Problems[0].Recording != "t6_aortic" {
		t.Errorf("%+v, %+v", r.Counts, r.Problems)
	}
	if lost := "score-late/states/part-000000.parquet"; os.Remove(lost) != nil {
		t.Errorf("%s is missing", lost)
	}
	again := source + tiny + " --out score-late --anchor offset --tolerance 40ms --resamples 30 --seed 9 --strata sex"
	c.run(t, 1, again)
	c.run(t, 3, again+" --resume")
	for _, tt := range []struct {
		rules      string
		tp, fp, fn int
	}{
		{"--anchor onset --tolerance 20ms", 58, 0, 9},
		{"--anchor centre --tolerance 20ms", 58, 0, 9},  // 12.5 ms late
		{"--anchor offset --tolerance 20ms", 0, 59, 67}, // also of the S1 that the start of t1_aortic cuts
	} {
		out, _ := c.run(t, 3, "score --states late --out score-rules --overwrite --resamples 30 --json "+tt.rules)
		checkHeadline(tt.rules, out, tt.tp, tt.fp, tt.fn)
	}
	writeFile(t, "score.yaml", "scoring: {anchor: onset, tolerance: 30ms, resamples: 25, seed: 4, strata: [site]}\n")
	out, _ = c.run(t, 3, "score --states late --config score.yaml --seed 5 --out score-rules --overwrite --json")
	if s := decoded[printedReport](t, out).Summary; s.Rules.Anchor != "onset" || s.Rules.HeadlineMS != 30 || s.Resamples != 25 || s.Seed != 5 {
		t.Errorf("--config: %+v, %d resamples, seed %d", s.Rules, s.Resamples, s.Seed)
	}
	out, _ = c.run(t, 3, "score --states late --out score-rules --overwrite --resamples 20 --table csv")
	if rows := parsed(t, out); rows[0][6] != "recall_percent" || rows[1][6] != "86.6" || rows[1][12] != "92.8" { // 58/67, 116/125
		t.Errorf("--table csv: %v", rows[:2])
	}

	c.run(t, 3, source+tiny+" --channel 2 --out score-channel")
	c.run(t, 3, source+linked+" --resamples 20 --follow-links --out score-linked")
	c.run(t, 1, source+linked+" --out none")
	out, _ = c.run(t, 3, source+twice+" --follow-links --reference second --resamples 20 --out score-second --json")
	if r := decoded[printedReport](t, out); r.Summary.Headline.TP+r.Summary.Headline.FN != 5 || r.Summary.Counts.Scored != 1 { // and an S1 at the start
		t.Errorf("--reference second: %+v, %+v", r.Summary.Counts, r.Summary.Headline)
	}
	checkUnreadTables(t, c, "score --predictions exact.csv --format predictions.yaml "+untold+" --resamples 20 --out score-untold")
	c.run(t, 0, "fit "+tiny+" --method duration-hmm --most-people 2 --model-out score-model.json")
	c.run(t, 0, "segment "+tiny+" --method duration-hmm --model score-model.json --out score-known")
	if _, stderr := c.run(t, 1, "score --states score-known --out none"); !strings.Contains(stderr, "person t1 is among those") {
		t.Errorf("people of the training data are scored: %s", stderr)
	}
	out, _ = c.run(t, 0, "score --states score-known --training-overlap leave-out --resamples 20 --out score-left --json")
	if n := decoded[printedReport](t, out).Summary.Counts; n.Scored != 5 || n.Excluded != 3 || n.People != 4 {
		t.Errorf("--training-overlap leave-out: %+v", n)
	}
	out, _ = c.run(t, 3, "score --states late --resamples 20 --out score-rules --overwrite --json --follow-links --reference second "+twice)
	if r := decoded[printedReport](t, out); r.Summary.Headline.TP+r.Summary.Headline.FN != 5 || r.Summary.Counts.Scored != 1 {
		t.Errorf("--states --reference second: %+v, %+v", r.Summary.Counts, r.Summary.Headline)
	}
	for _, from := range []string{"--predictions exact.csv --format predictions.yaml", "--predictions exact", "--states exact"} {
		checkLists(t, c, "score "+from+" "+tiny+" --resamples 20 --out score-lists --overwrite")
		if got := column(t, "score-lists/recordings", "recording"); !slices.Equal(got, []string{"t5_aortic", "t6_aortic"}) {
			t.Errorf("score %s with lists reads %v", from, got)
		}
	}
	if _, stderr := c.run(t, 1, "score --states exact --people lists/some.txt --out none"); !strings.Contains(stderr, "--data and --layout") {
		t.Errorf("a list without data: %s", stderr)
	}
	c.run(t, 0, "crossval "+tiny+" --method shannon-peaks --folds 2 --fold-seed 5 --resamples 20 --out score-folds")
	c.run(t, 3, source+tiny+" --folds-from score-folds --resamples 20 --out score-with-folds")
	want := cells(t, "score-folds/recordings", "recording,fold")
	if got := cells(t, "score-with-folds/recordings", "recording,fold"); !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("--folds-from: folds %v, want %v", got, want)
	}
	for _, flag := range []string{"--channel 1", "--resume", "--format predictions.yaml", "--folds-from late"} {
		if _, stderr := c.run(t, 2, "score --states late --out none "+flag); !strings.Contains(stderr, "belongs to --predictions") {
			t.Errorf("score --states %s: %s", flag, stderr)
		}
	}
}

func testFit(t *testing.T, c *commands) {
	fit := "fit " + tiny + " --method duration-hmm --date 2026-01-02 "
	type model struct {
		Method, Date string
		People       []string
		Recordings   int
		Score        *struct{ Folds int }
		Params       json.RawMessage
	}
	read := func(path string) model {
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return decoded[model](t, string(content))
	}
	out, _ := c.run(t, 0, fit+"--most-people 2 --fold-seed 3 --workers 2 --model-out fit.json")
	m := read("fit.json")
	if m.Method != "duration-hmm" || m.Date != "2026-01-02" || m.Recordings != 3 || !slices.Equal(m.People, []string{"tiny/t4", "tiny/t5"}) {
		t.Errorf("model %+v", m)
	}
	if !strings.Contains(out, "duration-hmm fitted to 3 recordings of 2 people") || !strings.Contains(out, "\n  fit.json\n") {
		t.Errorf("fit prints\n%s", out)
	}
	c.run(t, 0, fit+"--most-people 2 --model-out fit.json") // ours is replaced
	if m := read("fit.json"); !slices.Equal(m.People, []string{"tiny/t1", "tiny/t3"}) {
		t.Errorf("people %v with the default seed", m.People)
	}
	c.run(t, 2, fit+"--workers 0 --model-out fit-none")
	writeFile(t, "fit-notes", "mine")
	c.run(t, 1, fit+"--model-out fit-notes")
	c.run(t, 0, fit+"--model-out fit-notes --overwrite")
	if m := read("fit-notes"); len(m.People) != 6 || m.Recordings != 8 {
		t.Errorf("model of all: %+v", m)
	}
	c.run(t, 0, "crossval "+tiny+" --method duration-hmm --folds 2 --resamples 20 --out fit-cv")
	out, _ = c.run(t, 0, fit+"--cross-validated fit-cv --model-out fit.json")
	if m := read("fit.json"); m.Score == nil || m.Score.Folds != 2 || !strings.Contains(out, "Cross-validated in 2 folds by person") {
		t.Errorf("--cross-validated: %+v\n%s", m.Score, out)
	}
	writeFile(t, "fit.yaml", "inputs:\n- {data: linked, layout: tiny/tiny.yaml, follow-links: true}\nmethod: duration-hmm\nmost-people: 2\n")
	out, _ = c.run(t, 0, "fit --config fit.yaml --model-out fit.json")
	if !strings.Contains(out, "fitted to 3 recordings of 2 people") {
		t.Errorf("--config:\n%s", out)
	}
	for line, want := range map[string]string{
		"--method logistic-hsmm --fit-option l2=-1":                       "l2 is -1",
		"--method conv-hsmm --fit-option epochs=1 --checkpoint fit-notes": "fit-notes is not a checkpoint",
	} {
		if _, stderr := c.run(t, 1, "fit "+tiny+" --model-out fit-none "+line); !strings.Contains(stderr, want) {
			t.Errorf("fit %s: %s", line, stderr)
		}
	}
	if _, stderr := c.run(t, 1, fit+"--channel 2 --model-out fit-none"); !strings.Contains(stderr, "channel 2 of 1") {
		t.Errorf("--channel 2: %s", stderr)
	}
	c.run(t, 1, "fit "+linked+" --method duration-hmm --model-out fit-none")
	out, _ = c.run(t, 0, "fit "+twice+" --follow-links --reference second --method duration-hmm --model-out fit.json")
	if !strings.Contains(out, "fitted to 1 recordings of 1 people") {
		t.Errorf("--reference second:\n%s", out)
	}
	out = checkLists(t, c, fit+"--model-out fit.json")
	if m := read("fit.json"); !slices.Equal(m.People, []string{"tiny/t5", "tiny/t6"}) || m.Recordings != 2 || !strings.Contains(out, "fitted to 2 recordings of 2 people") {
		t.Errorf("fit with lists: %+v\n%s", m, out)
	}
	checkUnreadTables(t, c, "fit "+untold+" --method duration-hmm --model-out fit.json")

	// run knows whom the model was fitted to.
	c.run(t, 0, fit+"--model-out fit-all.json")
	_, stderr := c.run(t, 1, "run "+tiny+" --method duration-hmm --model fit-all.json --out none")
	if !strings.Contains(stderr, "fit-all.json was fitted on recordings of 6 of these people") {
		t.Errorf("run --model: %s", stderr)
	}
	c.run(t, 0, fit+"--most-people 2 --model-out fit-two.json")
	out, _ = c.run(t, 0, "run "+tiny+" --method duration-hmm --model fit-two.json --training-overlap leave-out --resamples 20 --out fit-run --json")
	if n := decoded[printedReport](t, out).Summary.Counts; n.Scored != 5 || n.Excluded != 3 || n.People != 4 {
		t.Errorf("run --training-overlap leave-out: %+v", n)
	}
}

// checkHeldReference runs a command over runs that were scored against the reference
// states.
func checkHeldReference(t *testing.T, c *commands, line string) {
	t.Helper()
	c.run(t, 0, line+" --reference states")
	if _, stderr := c.run(t, 1, line+" --reference second"); !strings.Contains(stderr, "second") || !strings.Contains(stderr, "states") {
		t.Errorf("%s --reference second: %s", line, stderr)
	}
}

type printedComparison struct {
	Runs []struct {
		Run                string
		Recordings, Failed int
	}
	People, Recordings, Resamples, Seed int
	Rules                               struct {
		Anchor     string
		HeadlineMS float64 `json:"headline_tolerance_ms"`
	}
	Scores []struct {
		Run string
		printedScore
	}
	Pairs []struct {
		First, Second string
		Differences   []struct {
			Class, Aggregate                     string
			First, Second, Difference, Low, High float64
		}
	}
}

// late has 58 of 67 sounds, so that its recall is 58/67, its precision 1 and its
// F1 116/125.
func testCompare(t *testing.T, c *commands) {
	out, _ := c.run(t, 0, "compare --results exact --results late --name A --name B --resamples 30 --seed 9 --workers 2 --json")
	r := decoded[printedComparison](t, out)
	if len(r.Runs) != 2 || r.Runs[0].Run != "A" || r.Runs[1].Run != "B" || r.Runs[1].Failed != 1 || r.Runs[1].Recordings != 8 || r.People != 6 || r.Recordings != 8 || r.Resamples != 30 || r.Seed != 9 || r.Rules.Anchor != "centre" || r.Rules.HeadlineMS != 60 {
		t.Errorf("%+v", r)
	}
	if len(r.Pairs) != 1 || len(r.Pairs[0].Differences) == 0 {
		t.Fatalf("pairs %+v", r.Pairs)
	}
	d := r.Pairs[0].Differences[0]
	if d.Class != "both" || d.Aggregate != "pooled" || d.First != 1 || math.Abs(d.Second-116./125) > 1e-12 || math.Abs(d.Difference+9./125) > 1e-12 {
		t.Errorf("difference %+v", d)
	}
	if len(r.Scores) != 18 || r.Scores[9].Run != "B" || r.Scores[9].TP != 58 || r.Scores[9].FN != 9 {
		t.Errorf("%d scores: %+v", len(r.Scores), r.Scores)
	}
	if _, stderr := c.run(t, 1, "compare --results exact --results late --reference ecg"); !strings.Contains(stderr, "run exact holds the reference \"states\": score it against \"ecg\" with score --states exact --reference ecg") {
		t.Errorf("another reference: %s", stderr)
	}
	out, _ = c.run(t, 0, "compare --results exact --results late --resamples 30 --reference states --json")
	if other := decoded[printedComparison](t, out); other.Seed != 1 || other.Runs[0].Run != "exact" || other.Runs[1].Run != "late" {
		t.Errorf("by default seed %d, runs %v", other.Seed, other.Runs)
	}
	out, _ = c.run(t, 0, "compare --results exact --results late --resamples 30 --anchor offset --tolerance 20ms --json")
	if r := decoded[printedComparison](t, out); r.Rules.Anchor != "offset" || r.Rules.HeadlineMS != 20 || r.Pairs[0].Differences[0].Second != 0 {
		t.Errorf("ends within 20 ms: %+v", r.Pairs)
	}
	out, _ = c.run(t, 0, "compare --results exact --results late --resamples 30 --tolerance 20ms --json") // the anchor has its default
	if r := decoded[printedComparison](t, out); r.Rules.Anchor != "centre" || r.Rules.HeadlineMS != 20 {
		t.Errorf("--tolerance alone: %+v", r.Rules)
	}
	for format, want := range map[string]string{
		"markdown": "| exact | late | both | pooled | -7.2 ", "latex": "exact & late & both & pooled & $-$7.2 ",
		"csv": "exact,late,both,pooled,100.0,92.8,-7.2,", "html": `<td class="n" data-value="-0.072">−7.2 `, "text": "exact  late    both    pooled ",
	} {
		out, _ := c.run(t, 0, "compare --results exact --results late --resamples 30 --differences --table "+format)
		if !strings.Contains(out, want) {
			t.Errorf("--differences --table %s lacks %q:\n%s", format, want, out)
		}
	}
	for format, want := range map[string]string{"markdown": "| late | 8 | 1 |", "latex": "late & 8 & 1 &", "csv": "late,8,1,", "text": "late            8       1 "} {
		out, _ := c.run(t, 0, "compare --results exact --results late --resamples 30 --table "+format)
		if !strings.Contains(out, want) {
			t.Errorf("--table %s lacks %q:\n%s", format, want, out)
		}
	}
	c.run(t, 2, "compare --results exact --results late --differences")
	out, _ = c.run(t, 0, "compare --results exact --results late --results peaks --name A --name B --resamples 30 --against B --json")
	if r := decoded[printedComparison](t, out); len(r.Pairs) != 2 || r.Pairs[0].First != "B" || r.Pairs[0].Second != "A" || r.Pairs[1].Second != "peaks" {
		t.Errorf("--against B: %+v", r.Pairs)
	}
	if _, stderr := c.run(t, 2, "compare --results exact --results late --against early"); !strings.Contains(stderr, "against early: no run has this name; there are exact, late") {
		t.Errorf("--against a run that is not there: %s", stderr)
	}
	c.run(t, 2, "compare --results exact --results late --workers 0")
	checkHeldReference(t, c, "compare --results exact --results late --resamples 30")
	testAcross(t, c)
}

// peaks was scored on the reference states of six people, and once more on the
// reference second, which one recording has.
func testAcross(t *testing.T, c *commands) {
	c.run(t, 0, "score --states peaks --reference second "+twice+" --follow-links --resamples 20 --out across-second")
	const line = "compare --across --results peaks --results exact --results across-second --resamples 30"
	out, _ := c.run(t, 0, line+" --name peaks --name exact --name peaks --json")
	o := decoded[struct {
		Methods []string
		Columns []struct {
			DataSet string `json:"data_set"`
			Rules   struct{ Reference string }
		}
		Cells []struct {
			Run    string
			Column int
		}
	}](t, out)
	if !slices.Equal(o.Methods, []string{"peaks", "exact"}) || len(o.Columns) != 2 || len(o.Cells) != 3 || o.Columns[1].Rules.Reference != "second" || o.Cells[2].Column != 1 {
		t.Errorf("%+v", o)
	}
	out, _ = c.run(t, 0, line+" --table markdown --name A --name B --name A")
	if !strings.Contains(out, "tiny: states | tiny: second |") || !strings.Contains(out, "\n| B | 100.0 (100.0 to 100.0)") {
		t.Errorf("the table lacks a column or a row:\n%s", out)
	}
	if _, stderr := c.run(t, 1, line+" --name A --name A"); !strings.Contains(stderr, "two runs of A on tiny") || !strings.Contains(stderr, "--name") {
		t.Errorf("two runs in one cell: %s", stderr)
	}
	c.run(t, 2, line+" --against peaks")
	c.run(t, 2, line+" --differences --table csv")
}

// The audit of the data set flawed finds its six gaps and the broken order; only
// given the data it can say where they stand.
func testAudit(t *testing.T, c *commands) {
	type audit struct {
		Recordings, Flagged int
		ByReason            map[string]int `json:"by_reason"`
		Findings            []struct{ Recording, Reason, Place string }
	}
	const gap = "no annotation for 50 ms at 0.450 s"
	c.run(t, 3, "segment "+flawed+" --method shannon-peaks --out audit-flawed")
	writeFile(t, "audit.yaml", "inputs:\n- {data: flawed, layout: plain}\n")
	for _, tt := range []struct{ data, gap, order string }{
		{"", "", ""}, {flawed, "gap0.csv:5", "order.csv:3"}, {"--config audit.yaml", "gap0.csv:5", "order.csv:3"},
	} {
		out, _ := c.run(t, 0, "audit --results audit-flawed --reference states --json "+tt.data)
		a := decoded[audit](t, out)
		if a.Recordings != 7 || a.Flagged != 7 || !maps.Equal(a.ByReason, map[string]int{"gaps": 6, "broken order": 1}) || len(a.Findings) != 7 {
			t.Fatalf("audit %s: %+v", tt.data, a)
		}
		if first, last := a.Findings[0], a.Findings[6]; first.Recording != "gap0" || first.Place != tt.gap || last.Reason != "broken order" || last.Place != tt.order {
			t.Errorf("audit %s: first %+v, last %+v", tt.data, first, last)
		}
	}
	c.run(t, 1, "audit --results audit-flawed --reference ecg")
	for flag, want := range map[string]int{"": 5, " --all": 6} {
		if out, _ := c.run(t, 0, "audit --results audit-flawed"+flag); strings.Count(out, gap) != want {
			t.Errorf("audit%s lists %d gaps, want %d:\n%s", flag, strings.Count(out, gap), want, out)
		}
	}
	out, _ := c.run(t, 0, "audit --results audit-flawed --table csv --data flawed --layout plain")
	want := []string{"order", "order", "broken order", "0.150", "2", "diastole follows S1 at 0.150 s", "order.csv:3"}
	if rows := parsed(t, out); len(rows) != 8 || !slices.Equal(rows[7], want) {
		t.Errorf("--table csv: %v, want %v last", rows, want)
	}
	c.run(t, 0, "audit --results audit-flawed --table csv --all")
	checkHeldReference(t, c, "audit --results exact")

	// A reference whose S1 and S2 are exchanged, against two methods under the
	// names that --name gives them.
	if err := os.CopyFS("audit-exchanged", os.DirFS("tiny")); err != nil {
		t.Fatal(err)
	}
	const reference = "audit-exchanged/recordings/t3_mitral.csv"
	content, err := os.ReadFile(reference)
	if err != nil {
		t.Fatal(err)
	}
	writeFile(t, reference, strings.NewReplacer("S1", "S2", "S2", "S1", "systole", "diastole", "diastole", "systole").Replace(string(content)))
	exchanged := "--data audit-exchanged --layout tiny/tiny.yaml"
	for _, name := range []string{"audit-a", "audit-b"} {
		c.run(t, 0, "score --predictions exact.csv --format predictions.yaml "+exchanged+" --resamples 20 --out "+name)
	}
	for runs, want := range map[string]string{
		"--results audit-a":                   "map[exchanged, by heart rate:1]",
		"--results audit-a --results audit-b": "map[exchanged, by all methods:1 exchanged, by heart rate:1]",
	} {
		out, _ := c.run(t, 0, "audit --json "+runs)
		a := decoded[audit](t, out)
		if fmt.Sprint(a.ByReason) != want || a.Recordings != 8 || a.Flagged != 1 || a.Findings[0].Recording != "t3_mitral" {
			t.Errorf("audit %s: %+v, want %s", runs, a, want)
		}
	}

	// Behind a link the file is found with the flag alone.
	if err := errors.Join(os.Mkdir("audit-linked", 0o755), os.Symlink("../flawed", "audit-linked/files")); err != nil {
		t.Fatal(err)
	}
	c.run(t, 3, "segment --data audit-linked --layout plain --follow-links --method shannon-peaks --out audit-links")
	c.run(t, 1, "audit --results audit-links --json --data audit-linked --layout plain")
	out, _ = c.run(t, 0, "audit --results audit-links --json --data audit-linked --layout plain --follow-links")
	if a := decoded[audit](t, out); len(a.Findings) != 7 || a.Findings[0].Place != "files/gap0.csv:5" {
		t.Errorf("--follow-links: %+v", a.Findings)
	}
}

func testLeakage(t *testing.T, c *commands) {
	type result struct {
		By                                         string
		Folds, Seed, Resamples, Recordings, People int
		L2                                         float64
		Accuracy                                   struct{ Value, Low, High float64 }
		Classes                                    []struct {
			Name               string
			Recordings, People int
			Recall             struct{ Value, Low, High float64 }
		}
		TopFeatures []struct {
			Name, Values string
			AUC          float64
		} `json:"top_features"`
	}
	json := func(flags string) result {
		out, _ := c.run(t, 0, "leakage --tables peaks --by sex --folds 3 --json "+flags)
		return decoded[result](t, out)
	}
	r := json("--resamples 20 --seed 9 --top 2")
	if r.By != "sex" || r.Folds != 3 || r.Seed != 9 || r.Resamples != 20 || r.Recordings != 8 || r.People != 6 || r.L2 != 1 || len(r.TopFeatures) != 2 {
		t.Errorf("%+v", r)
	}
	if len(r.Classes) != 2 || r.Classes[0].Name != "female" || r.Classes[0].Recordings != 5 || r.Classes[0].People != 3 || r.Classes[1].Recordings != 3 {
		t.Errorf("classes %+v", r.Classes)
	}
	for _, f := range r.TopFeatures {
		if f.AUC < 0.5 || f.Values != "higher" && f.Values != "lower" {
			t.Errorf("top feature %+v: want max(AUC, 1−AUC)", f)
		}
	}
	out, _ := c.run(t, 0, "leakage --tables peaks --resamples 20 --by sex --folds 3 --table csv")
	rows := parsed(t, out)
	if len(rows) != 3 || !slices.Equal(rows[1][:3], []string{"female", "5", "3"}) || !slices.Equal(rows[2][:3], []string{"male", "3", "3"}) {
		t.Errorf("--table csv: %v", rows)
	}
	if got, seed := rows[1][3:6], r.Classes[0].Recall; got[1] == fmt.Sprintf("%.3f", seed.Low) && got[2] == fmt.Sprintf("%.3f", seed.High) {
		t.Errorf("recall %v with either seed", got)
	}
	if l2 := json("--resamples 20 --l2 1000"); l2.L2 != 1000 || rows[1][3] == fmt.Sprintf("%.3f", l2.Classes[0].Recall.Value) {
		t.Errorf("recall %s with either penalty", rows[1][3])
	}
}

// The recordings that are chosen fulfil what is asked, and their list is one that
// --recordings takes.
func testChoose(t *testing.T, c *commands) {
	const line = "choose --results peaks --where sex=female --rate 60-120 "
	out, _ := c.run(t, 0, line+"--where duration_s<4 --cleanest 2")
	for _, want := range []string{"# 2 of the 8 recordings of peaks,", "# asked for: sex=female; duration_s<4; 60 to 120 beats per minute; the 2 cleanest\n",
		"# F1 is of S1 and S2 within 60 ms at the centre, against the reference states\n", "# sex female; duration_s 3; ", "not for diagnosis"} {
		if !strings.Contains(out, want) {
			t.Errorf("choose lacks %q:\n%s", want, out)
		}
	}
	writeFile(t, "lists/chosen.txt", out)
	if out, _ = c.run(t, 0, "scan "+tiny+" --list recordings --recordings lists/chosen.txt"); out != "t1_aortic\nt5_mitral\n" {
		t.Errorf("the two least noisy recordings are %q", out)
	}
	type choice struct {
		Recordings []struct {
			Recording string
			F1        float64
		}
		Warnings []string
	}
	json := func(flags string) choice {
		out, _ := c.run(t, 0, "choose --results peaks --json "+flags)
		return decoded[choice](t, out)
	}
	best, worst := json("--best 8"), json("--worst 8")
	for i, r := range best.Recordings {
		if i > 0 && r.F1 > best.Recordings[i-1].F1 || r.F1 < 0 || len(best.Recordings) != 8 {
			t.Errorf("the best are %+v", best.Recordings)
		}
		if i > 0 && worst.Recordings[i].F1 < worst.Recordings[i-1].F1 {
			t.Errorf("the worst are %+v", worst.Recordings)
		}
	}
	middle := fmt.Sprintf("%g", 100*best.Recordings[3].F1)
	for _, r := range json("--score " + middle + "-").Recordings {
		if 100*r.F1 < 100*best.Recordings[3].F1 {
			t.Errorf("--score %s-: %+v", middle, r)
		}
	}
	if few := json("--best 9"); len(few.Recordings) != 8 || len(few.Warnings) != 1 || few.Warnings[0] != "only 8 of the 9 asked for fulfil the conditions" {
		t.Errorf("--best 9: %d recordings, %v", len(few.Recordings), few.Warnings)
	}
	for line, want := range map[string]string{
		"--results peaks --where sex=femal": "did you mean sex=female?",
		"--results peaks --where sx=female": `did you mean "sex"?`,
		"--results peaks --rate 300-":       "8 are segmented, 0 of them have the heart rate",
		"--results tiny":                    "has no plan.json",
		"--results windows-common --best 1": "has no scores",
		"--results exact --cleanest 1":      "has no features",
	} {
		if _, stderr := c.run(t, 1, "choose "+line); !strings.Contains(stderr, want) {
			t.Errorf("choose %s: %s", line, stderr)
		}
	}
	for _, line := range []string{"", "--results peaks --best 1 --worst 1", "--results peaks --cleanest -1", "--results peaks --rate 90-60", "--results peaks --rate fast", "--results peaks --where sex"} {
		c.run(t, 2, "choose "+line)
	}
}

func testCSV(t *testing.T, c *commands) {
	out, _ := c.run(t, 0, "csv --table exact/recordings --columns recording,rate_hz,duration_s,outcome")
	want := [][]string{{"recording", "rate_hz", "duration_s", "outcome"}, {"t1_aortic", "2000", "3", "done"}, {"t1_mitral", "2000", "3", "done"}, {"t2_aortic", "2000", "3", "done"},
		{"t3_mitral", "2000", "4", "done"}, {"t4_mitral", "2000", "2", "done"}, {"t5_aortic", "2000", "3", "done"}, {"t5_mitral", "2000", "3", "done"}, {"t6_aortic", "2000", "3", "done"}}
	if got := parsed(t, out); !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("%v, want %v", got, want)
	}
	out, _ = c.run(t, 0, "csv --table exact/states")
	if rows := parsed(t, out); len(rows) != 1+2*146 {
		t.Errorf("%d rows, want a heading and twice the 146 states of the reference", len(rows))
	}
	for line, want := range map[string]string{
		"peaks/people --where sex=male --where age_years>50 --columns person,age_*":                                                          "person,age_years,age_group\nt2,52,adult\nt4,71,older adult\n",
		"exact/scores --where recording=t1_aortic --where class=S1 --where anchor=centre --where tolerance_ms=60 --columns f1,tp --digits 2": "f1,tp\n1,3\n",
		"exact/states --where recording=t1_aortic --where source=reference --columns end_s --digits 2":                                       "",
	} {
		out, _ := c.run(t, 0, "csv --table "+line)
		if want != "" && out != want {
			t.Errorf("csv %s prints %q, want %q", line, out, want)
		}
		for _, row := range parsed(t, out)[1:] {
			if want == "" && len(strings.Trim(row[0], "0.")) > 2 && len(row[0]) > 3 {
				t.Errorf("two digits of %s", row[0])
			}
		}
	}
	packed, _ := c.run(t, 0, "csv --table exact/scores --gzip")
	r, err := gzip.NewReader(strings.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(r)
	if plain, _ := c.run(t, 0, "csv --table exact/scores"); err != nil || string(text) != plain {
		t.Errorf("--gzip: %d bytes of text, want %d; %v", len(text), len(plain), err)
	}
	if _, stderr := c.run(t, 2, "csv --table exact/scores --where f1>high"); !strings.Contains(stderr, `"high" is not a number`) {
		t.Error(stderr)
	}
	// A label that a spreadsheet would take for a formula.
	writeFile(t, "csv-data/=1.wav", "no audio")
	c.run(t, 3, "segment --data csv-data --layout plain --method shannon-peaks --out csv-formula")
	for flag, want := range map[string]string{"": "recording\n'=1\n", " --raw": "recording\n=1\n"} {
		if out, _ := c.run(t, 0, "csv --table csv-formula/recordings --columns recording"+flag); out != want {
			t.Errorf("csv%s prints %q, want %q", flag, out, want)
		}
	}
}

func testPartition(t *testing.T, c *commands) {
	c.run(t, 3, "segment "+tiny+" "+flawed+" --method shannon-peaks --out partition-both")
	const line = "partition --table partition-both/recordings --out partition-out"
	out, _ := c.run(t, 0, line)
	if !strings.Contains(out, "\n  partition-out/recordings\n") || !slices.Equal(files(t, "partition-out/recordings"), []string{"data_set=plain", "data_set=tiny"}) {
		t.Errorf("%v\n%s", files(t, "partition-out/recordings"), out)
	}
	if got := column(t, "partition-out/recordings/data_set=plain", "recording"); len(got) != 8 {
		t.Errorf("recordings of flawed: %v", got)
	}
	c.run(t, 1, line)
	c.run(t, 0, line+" --overwrite")
}

// A run whose parts are all there is completed to what one run writes. That shards
// make the parts of one run is tested in package pipeline.
func testMerge(t *testing.T, c *commands) {
	const lost = "merge-run/cycles/part-000001.parquet"
	if err := os.CopyFS("merge-run", os.DirFS("peaks")); err != nil {
		t.Fatal(err)
	}
	part, err := os.ReadFile(lost)
	for _, name := range []string{lost, "merge-run/summary.json", "merge-run/manifest.json", "merge-run/scores", "merge-run/matches", "merge-run/people"} {
		err = errors.Join(err, os.RemoveAll(name))
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, stderr := c.run(t, 1, "merge --out merge-run"); !strings.Contains(stderr, lost) {
		t.Errorf("merge without a part: %s", stderr)
	}
	writeFile(t, lost, string(part))
	c.run(t, 2, "merge --out merge-run --workers 0")
	c.run(t, 1, "merge --out merge-run "+untold)
	c.run(t, 1, "merge --out merge-run "+linked)
	out, _ := c.run(t, 0, "merge --out merge-run --follow-links --workers 2 --json "+linked)
	if r := decoded[printedReport](t, out); r.Counts.In != 8 || r.Counts.Done != 8 || r.Summary.Counts.Scored != 8 {
		t.Errorf("%+v, %+v", r.Counts, r.Summary.Counts)
	}
	const lists = " --people lists/some.txt --recordings lists/but.txt"
	c.run(t, 0, "segment "+tiny+" --method shannon-peaks --out merge-lists"+lists)
	c.run(t, 0, "merge --out merge-lists "+tiny+lists)
	if _, stderr := c.run(t, 1, "merge --out merge-lists "+tiny+" --people lists/some.txt"); !strings.Contains(stderr, "the recordings were those of the list but (digest ") {
		t.Errorf("merge without one of the lists: %s", stderr)
	}
	c.run(t, 2, "merge --out merge-lists"+lists)
	want, got := map[string][]byte{}, map[string][]byte{}
	for name, content := range written(t, "peaks") {
		want[strings.TrimPrefix(name, "peaks")] = content
	}
	for name, content := range written(t, "merge-run") {
		got[strings.TrimPrefix(name, "merge-run")] = content
	}
	if !equalFiles(want, got) {
		t.Errorf("files differ from those of one run: %s", difference(want, got))
	}
}

func testSynth(t *testing.T, c *commands) {
	c.run(t, 0, "synth --people tiny-people.yaml --out synth-seed --seed 2")
	c.run(t, 0, "synth --people tiny-people.yaml --out synth-same")
	same, other, want := written(t, "synth-same"), written(t, "synth-seed"), written(t, "tiny")
	if len(want) != 19 || len(same) != 19 || len(other) != 19 {
		t.Fatalf("%d, %d and %d files, want 19", len(want), len(same), len(other))
	}
	const audio = "/recordings/t1_aortic.wav"
	if !bytes.Equal(want["tiny"+audio], same["synth-same"+audio]) || bytes.Equal(want["tiny"+audio], other["synth-seed"+audio]) {
		t.Error("the seed does not decide the bytes")
	}
	c.run(t, 0, "synth --many 2 --length 2s --out synth-many --seed 3")
	out, _ := c.run(t, 0, "scan --json --data synth-many --layout synth-many/many.yaml")
	sets := decoded[[]struct {
		Recordings int
		Seconds    float64 `json:"duration_s"`
	}](t, out)
	if len(sets) != 1 || sets[0].Recordings != 2 || sets[0].Seconds != 4 {
		t.Errorf("%+v, want 2 recordings of 2 s", sets)
	}
	c.run(t, 1, "synth --many 2 --length 2s --out synth-many")
	c.run(t, 0, "synth --many 2 --length 2s --out synth-many --overwrite")
	c.run(t, 2, "synth --length 2s --people tiny-people.yaml --out synth-none")
	c.run(t, 2, "synth --many 2 --people tiny-people.yaml --out synth-none")
}

func testDictionary(t *testing.T, c *commands) {
	out, _ := c.run(t, 0, "dictionary --json")
	entries := decoded[[]struct{ Name, Level, Unit, Definition string }](t, out)
	if len(entries) < 300 || entries[0].Name != "rr_interval_s" || entries[0].Unit != "s" {
		t.Errorf("%d entries, the first %+v", len(entries), entries[0])
	}
	for _, e := range entries {
		if e.Name == "" || e.Level == "" || e.Definition == "" {
			t.Errorf("entry %+v", e)
		}
	}
	if out, _ = c.run(t, 0, "dictionary"); !strings.Contains(out, "rr_interval_s") || strings.HasPrefix(out, "[") {
		t.Errorf("Markdown begins with %.100q", out)
	}
	out, _ = c.run(t, 0, "dictionary outcome murmur signal")
	for _, want := range []string{"outcome (recordings)\n  done, failed or excluded\n", "outcome (matches)\n  TP, FP or FN;", "column Murmur of training_data.csv, in data set circor", "signal, in FS (windows)\n"} {
		if !strings.Contains(out, want) {
			t.Errorf("dictionary of three columns lacks %q:\n%s", want, out)
		}
	}
	out, _ = c.run(t, 0, "dictionary --json s1_duration_s*")
	meanings := decoded[[]struct {
		Name, Unit, Definition string
		Tables                 []string
	}](t, out)
	if len(meanings) < 4 || meanings[0].Name != "s1_duration_s_mean" || meanings[0].Unit != "s" || !slices.Equal(meanings[0].Tables, []string{"recordings"}) {
		t.Errorf("%+v", meanings)
	}
	if _, stderr := c.run(t, 1, "dictionary outcom"); !strings.Contains(stderr, `did you mean "outcome"?`) {
		t.Error(stderr)
	}
}

// The example reads a folder of WAV files, a layout with errors lists them, and the text
// of a built-in one is printed as it is.
func testLayout(t *testing.T, c *commands) {
	out, _ := c.run(t, 0, "layout --example")
	writeFile(t, "mine.yaml", out)
	if again, _ := c.run(t, 0, "layout mine.yaml"); again != out {
		t.Error("the example is not printed as it is")
	}
	type inventory struct {
		Layout                          string
		Recordings, Annotations, S1, S2 int
	}
	scan := func(layout string) inventory {
		out, _ := c.run(t, 0, "scan --json --data flawed --layout "+layout)
		return decoded[[]inventory](t, out)[0]
	}
	mine, plain := scan("mine.yaml"), scan("plain")
	mine.Layout, plain.Layout = "", ""
	if mine != plain || mine.Recordings != 8 || mine.S1 != 14 {
		t.Errorf("the example reads %+v, plain %+v", mine, plain)
	}
	if out, _ = c.run(t, 0, "layout circor"); !strings.Contains(out, "\nname: circor\n") {
		t.Errorf("layout circor: %.200s", out)
	}
	if out, _ = c.run(t, 0, "layout --keys"); !strings.HasPrefix(out, "# Layouts\n") || !strings.Contains(out, "| `tables[].key` |") {
		t.Errorf("layout --keys: %.200s", out)
	}
	writeFile(t, "wrong.yaml", "nam: x\n")
	if _, stderr := c.run(t, 1, "layout wrong.yaml"); !strings.Contains(stderr, "wrong.yaml:") {
		t.Errorf("a wrong layout: %s", stderr)
	}
	if _, stderr := c.run(t, 1, "layout crcor"); !strings.Contains(stderr, `did you mean "circor"?`) {
		t.Errorf("layout crcor: %s", stderr)
	}
	for _, line := range []string{"layout", "layout --example --keys", "layout circor --keys", "layout circor pascal"} {
		c.run(t, 2, line)
	}
}

func testMethods(t *testing.T, c *commands) {
	out, _ := c.run(t, 0, "methods --json")
	list := decoded[[]struct {
		Name, Paper    string
		Fitted         bool
		Configurations []string `json:"run_configurations"`
	}](t, out)
	if len(list) != 4 || list[0].Name != "shannon-peaks" || list[0].Fitted || !list[3].Fitted || !slices.Equal(list[1].Configurations, []string{"schmidt-2010"}) {
		t.Errorf("methods %+v", list)
	}
	if out, _ = c.run(t, 0, "methods"); !strings.Contains(out, "duration-hmm   duration-dependent hidden Markov model") {
		t.Errorf("methods:\n%s", out)
	}
	out, _ = c.run(t, 0, "methods schmidt-2010 --table csv")
	if rows := parsed(t, out); len(rows) != 11 || !slices.Equal(rows[2], []string{"max-rate", "220", "per minute", "10 to 400", "120", "Schmidt et al. 2010, from memory, high confidence"}) || rows[3][1] != "1" {
		t.Errorf("--table csv: %v", rows)
	}
	c.run(t, 1, "methods nobody")
	for _, line := range []string{"methods duration-hmm schmidt-2010", "methods --paragraph", "methods exact", "methods --bibtex --json exact"} {
		c.run(t, 2, line)
	}
	for dir, want := range map[string]string{
		"exact": "The segmentation was made by another program (exact) and read by phonocycle",
		"peaks": "shannon-peaks (peaks of the normalised average Shannon energy; Liang et al. 1997) of phonocycle",
	} {
		if out, _ = c.run(t, 0, "methods --paragraph "+dir); !strings.Contains(out, want) || !strings.Contains(out, "Of 8 recordings, 8 of 6 people entered the scores. The method gave no segmentation for 0 of them.") {
			t.Errorf("--paragraph %s: %s", dir, out)
		}
	}
	for name, want := range map[string]string{"peaks": "@inproceedings{liang1997,", "conv-hsmm": "@article{renna2019,"} {
		if out, _ = c.run(t, 0, "methods --bibtex "+name); !strings.HasPrefix(out, want) {
			t.Errorf("--bibtex %s: %s", name, out)
		}
	}
}

func testReport(t *testing.T, c *commands) {
	const line = "report --results exact --results late --out report.html"
	out, _ := c.run(t, 0, line+" --name run-A-here --name run-B-here")
	if !strings.Contains(out, "\n  report.html\n") {
		t.Errorf("written:\n%s", out)
	}
	page := func() string {
		content, err := os.ReadFile("report.html")
		if err != nil {
			t.Fatal(err)
		}
		return string(content)
	}
	html := page()
	if !strings.Contains(html, "run-A-here") || !strings.Contains(html, "run-B-here") || strings.Contains(html, "audio/wav") {
		t.Error("the page of two named runs lacks a name, or has audio without data")
	}
	c.run(t, 0, line+" "+tiny)
	if html = page(); !strings.Contains(html, "audio/wav") || strings.Contains(html, "run-A-here") {
		t.Error("with data, the page has no audio")
	}
	for sounds, want := range map[string]bool{"all": true, "chosen": true, "none": false} {
		if c.run(t, 0, line+" --sounds "+sounds+" "+tiny); strings.Contains(page(), "audio/wav") != want {
			t.Errorf("--sounds %s: audio %v", sounds, !want)
		}
	}
	c.run(t, 2, line+" --sounds some "+tiny)
	c.run(t, 2, line+" --sounds all")
	c.run(t, 0, line+" --follow-links "+linked)
	if html = page(); !strings.Contains(html, "audio/wav") {
		t.Error("with linked data, the page has no audio")
	}
	c.run(t, 1, line+" "+linked)
	c.run(t, 0, line+" --reference states")
	c.run(t, 1, line+" --reference ecg")
	writeFile(t, "report.html", "mine")
	c.run(t, 1, line)
	checkHeldReference(t, c, "report --results exact --out report-held.html")
	c.run(t, 0, "report --results exact --out report.html --overwrite --tables report-tables --figures report-figures")
	rows, err := os.ReadFile("report-tables/scores.csv")
	if err != nil || !strings.HasPrefix(string(rows), "sounds,average,recall_percent") {
		t.Errorf("%v: %.80q", err, rows)
	}
	for _, name := range []string{"tolerance", "strata", "deltas", "confusion", "rate-agreement", "systole-agreement", "recording-1-1"} {
		for extension, magic := range map[string]string{".svg": "<?xml", ".png": "\x89PNG", ".pdf": "%PDF"} {
			if content, err := os.ReadFile("report-figures/" + name + extension); err != nil || !strings.HasPrefix(string(content), magic) {
				t.Errorf("%s%s: %v", name, extension, err)
			}
		}
	}
}

func testExplain(t *testing.T, c *commands) {
	writeFile(t, "explain.yaml", "inputs:\n- {data: linked, layout: tiny/tiny.yaml}\n")
	const line = "explain --recording t1_aortic --out explain.html "
	page := func() string {
		content, err := os.ReadFile("explain.html")
		if err != nil {
			t.Fatal(err)
		}
		return string(content)
	}
	for more, want := range map[string]string{
		tiny: "States: the reference annotation of the data set",
		tiny + " --recording t5_mitral --start 1s,0.5s --length 2s": "Heart sounds of recordings t1_aortic and t5_mitral",
		tiny + " --quiz":  "Quiz: find the heart sounds in 1 recording",
		tiny + " --sheet": "Worksheet: find the heart sounds in 1 recording",
		tiny + " --source predicted --method shannon-peaks --option threshold=0.45": "States: the method shannon-peaks",
		linked + " --follow-links":                                      "Eight recordings",
		twice + " --follow-links --reference second --source reference": "75 beats per minute",
		"--config explain.yaml --follow-links":                          "Eight recordings",
	} {
		c.run(t, 0, line+more)
		if html := page(); !strings.Contains(html, want) {
			t.Errorf("explain %s: the page lacks %q", more, want)
		}
	}
	for more, want := range map[string]string{
		tiny + " --channel 2": "channel 2 of 1", linked: "--follow-links", tiny + " --source predicted --option hypotheses=-1": "hypotheses",
		tiny + " --source predicted --model explain.html": "explain.html", tiny + " --start 10m": "earlier --start",
	} {
		if _, stderr := c.run(t, 1, line+more); !strings.Contains(stderr, want) {
			t.Errorf("explain %s: %s", more, stderr)
		}
	}
	for more, want := range map[string]string{
		"--source both": "reference or predicted", "--quiz --sheet": "not both", "--start -1s": "begins at 0s", "--start 1s,2s": "2 times for --start and 1 recordings", "--length 10ms": "want 1s to 30s",
	} {
		if _, stderr := c.run(t, 2, line+tiny+" "+more); !strings.Contains(stderr, want) {
			t.Errorf("explain %s: %s", more, stderr)
		}
	}
	writeFile(t, "explain.html", "mine")
	c.run(t, 1, line+tiny)
	c.run(t, 0, line+tiny+" --overwrite")
}

func testDemo(t *testing.T, c *commands) {
	writeFile(t, "demo-here/recordings/people.csv", "of a demo that was interrupted")
	if err := os.CopyFS("demo-here/results", os.DirFS("peaks")); err != nil {
		t.Fatal(err)
	}
	c.run(t, 1, "demo --out demo-here")
	out, _ := c.run(t, 0, "demo --out demo-here --overwrite --json") // though some recordings fail on purpose
	if r := decoded[printedReport](t, out); r.Counts.In != 28 || r.Counts.Done != 25 || r.Counts.Failed != 2 || r.Counts.Excluded != 1 || r.Summary.Counts.Scored != 24 {
		t.Errorf("%+v, %+v", r.Counts, r.Summary.Counts)
	} else if n := len(r.Written); n < 3 || r.Written[n-2] != filepath.Join("demo-here", "report.html") || r.Written[n-1] != filepath.Join("demo-here", "heart-sounds.html") {
		t.Errorf("written: %q", r.Written)
	}
}

// Each script is one of its shell, and names are completed where they belong.
func testCompletion(t *testing.T, c *commands) {
	for shell, want := range map[string]string{
		"bash": "complete -o default -F __start_phonocycle phonocycle", "zsh": "#compdef phonocycle",
		"fish": "complete -c phonocycle", "powershell": "Register-ArgumentCompleter",
	} {
		if out, _ := c.run(t, 0, "completion "+shell); !strings.Contains(out, want) {
			t.Errorf("the script of %s lacks %q", shell, want)
		}
	}
	for _, line := range []string{"completion", "completion tcsh", "completion bash zsh"} {
		if _, stderr := c.run(t, 2, line); !strings.Contains(stderr, "bash, zsh, fish, powershell") {
			t.Errorf("%s: %s", line, stderr)
		}
	}
	for line, want := range map[string]string{
		"leak":                               "leakage\tHow well",
		"run --meth":                         "--method\t",
		"run --method logi":                  "logistic-hsmm\n:0\n",
		"run --layout cin":                   "cinc2016\n:0\n",
		"run --config lia":                   "liang-1997\n:0\n",
		"run --model spr":                    "springer-2016\n:0\n",
		"run --training-overlap le":          "leave-out\n:0\n",
		"dictionary s2_split_c":              "s2_split_confidence_mean\n",
		"layout pas":                         "pascal\n:0\n",
		"methods schm":                       "schmidt-2010\n:0\n",
		"csv --columns recording,method_hea": "recording,method_heart_rate_per_min\n:0\n",
		"choose --where labels_s":            "labels_sha256\n:0\n",
		"score --table mark":                 "markdown\n:0\n",
		"windows --format n":                 "npy\n:0\n",
		"completion f":                       "fish",
		"csv --table pe":                     ":16\n", // folders alone
	} {
		status, stdout, stderr := call(t, append([]string{"__complete"}, strings.Fields(line)...)...)
		if status != 0 || !strings.HasPrefix(stdout, want) {
			t.Errorf("completing %q: status %d, %q, want %q\n%s", line, status, stdout, want, stderr)
		}
	}
}
