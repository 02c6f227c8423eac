package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// call runs the command line and returns its exit status and what it printed.
func call(t *testing.T, args ...string) (status int, stdout, stderr string) {
	t.Helper()
	return invoke(args...)
}

func invoke(args ...string) (status int, stdout, stderr string) {
	var out, err bytes.Buffer
	status = execute(context.Background(), args, &out, &err)
	return status, out.String(), err.String()
}

func TestHelpDefersToLicensedPractice(t *testing.T) {
	for _, c := range newRoot().Commands() {
		if c.Name() == "help" || c.Hidden {
			continue
		}
		status, stdout, _ := call(t, c.Name(), "--help")
		if status != 0 || !strings.Contains(stdout, "Research use only") || !strings.Contains(stdout, "licensed practitioners") {
			t.Errorf("%s --help: status %d, without the caution:\n%s", c.Name(), status, stdout)
		}
	}
}

func TestWrongUsage(t *testing.T) {
	tests := []struct {
		args []string
		want string
	}{
		{[]string{"run"}, "--data"},
		{[]string{"run", "--data", "x"}, "--layout"},
		{[]string{"run", "--data", "x", "--layout", "plain"}, "--out"},
		{[]string{"run", "--wokers", "3"}, "--wokers"},
		{[]string{"run", "--tolerance", "60"}, "60ms"},
		{[]string{"run", "--shard", "3/2"}, "i/n"},
		{[]string{"run", "folder"}, "folder"},
		{[]string{"score", "--out", "x"}, "--states"},
		{[]string{"extract", "--data", "x", "--layout", "plain", "--out", "y"}, "--states"},
		{[]string{"windows", "--data", "x", "--layout", "plain", "--out", "y"}, "--states"},
		{[]string{"windows", "--length", "2"}, "60ms"},
		{[]string{"leakage"}, "--tables"},
		{[]string{"csv"}, "--table"},
		{[]string{"partition", "--table", "x"}, "--out"},
		{[]string{"synth"}, "--out"},
		{[]string{"synth", "--out", "x", "--many", "-1"}, "--many"},
		{[]string{"merge"}, "--out"},
		{[]string{"report", "--out", "x"}, "--results"},
		{[]string{"explain", "--out", "x"}, "--recording"},
		{[]string{"explain", "--recording", "x"}, "--out"},
		{[]string{"explain", "--recording", "x", "--out", "y"}, "--data"},
		{[]string{"report", "--results", "x"}, "--out"},
		{[]string{"report", "--results", "x", "--out", "y", "--data", "z"}, "--layout"},
		{[]string{"compare", "--results", "x"}, "--results"},
		{[]string{"audit"}, "--results"},
		{[]string{"study"}, "one study"},
		{[]string{"study", "readme"}, "--out"},
		{[]string{"completion", "argument"}, "one shell"},
		{[]string{"audit", "--results", "x", "--table", "word"}, "markdown, latex, csv, html or text"},
		{[]string{"score", "--states", "x", "--predictions", "y", "--out", "z"}, "not both"},
		{[]string{"scan"}, "--data"},
		{[]string{"analyse"}, "analyse"},
		{[]string{"segment", "--data", "x", "--layout", "plain"}, "--out"},
		{[]string{"crossval", "--data", "x", "--layout", "plain"}, "--out"},
		{[]string{"fit", "--data", "x", "--layout", "plain"}, "--model-out"},
		{[]string{"fit", "--data", "x", "--layout", "plain", "--model-out", "y", "--date", "today"}, "write it like 2026-02-03"},
		{[]string{"fit", "--data", "x", "--layout", "plain", "--model-out", "x/y"}, "lies in the folder of the data set"},
		{[]string{"run", "--data", "x", "--layout", "plain", "--out", "y", "--resume", "--overwrite"}, "not both"},
		{[]string{"run", "--data", "x", "--layout", "plain", "--out", "y", "--shard", "1/2", "--overwrite"}, "--shard"},
		{[]string{"run", "--data", "x", "--layout", "plain", "--out", "y", "--option", "threshold"}, "key=value"},
		{[]string{"leakage", "--tables", "x", "--by", "site,site"}, "site"},
		{[]string{"score", "--states", "x", "--out", "y", "--training-overlap", "both"}, "refuse"},
	}
	for _, c := range newRoot().Commands() {
		for _, arg := range []string{"argument", "--nosuch", "-x"} {
			if takesNames := []string{"methods", "dictionary", "layout", "study", "completion"}; arg == "argument" && slices.Contains(takesNames, c.Name()) {
				continue // a name that is unknown, as with --method
			}
			tests = append(tests, struct {
				args []string
				want string
			}{[]string{c.Name(), arg}, arg})
		}
	}
	for _, tt := range tests {
		status, _, stderr := call(t, tt.args...)
		if status != 2 || !strings.Contains(stderr, tt.want) {
			t.Errorf("%v: status %d, %q; want status 2 and %q", tt.args, status, stderr, tt.want)
		}
	}
}

// pcm returns a mono 16-bit WAV whose data chunk claims claimed bytes.
func pcm(rate int, samples []int16, claimed uint32) []byte {
	return wav(1, 16, rate, samples, claimed)
}

// float returns a mono 32-bit float WAV.
func float(rate int, samples []float32) []byte {
	return wav(3, 32, rate, samples, uint32(4*len(samples)))
}

// wav returns a mono WAV of the given format tag and sample size.
func wav(tag, bits uint16, rate int, samples any, claimed uint32) []byte {
	var b bytes.Buffer
	for _, v := range []any{
		[]byte("RIFF"), 36 + claimed, []byte("WAVEfmt "), uint32(16), tag, uint16(1),
		uint32(rate), uint32(rate) * uint32(bits/8), bits / 8, bits, []byte("data"), claimed, samples,
	} {
		binary.Write(&b, binary.LittleEndian, v) // a bytes.Buffer takes all
	}
	return b.Bytes()
}

// TestBadRecordings runs over a folder in which every file is bad in its own
// way: each becomes a row with a reason that says what is wrong.
func TestBadRecordings(t *testing.T) {
	beat := make([]int16, 8000)
	for i := range beat {
		beat[i] = int16(8000 * math.Sin(float64(i)*0.08) * math.Exp(-float64(i%1600)/150))
	}
	notNumbers := make([]float32, 8000)
	notNumbers[4000] = float32(math.NaN())
	files := map[string]struct {
		content []byte
		outcome string
		want    string
	}{
		"text.wav":     {[]byte("this is not audio, whatever its name says"), "failed", "not a WAV file"},
		"empty.wav":    {nil, "failed", "not a WAV file"},
		"nothing.wav":  {pcm(2000, nil, 0), "failed", "no samples"},
		"short.wav":    {pcm(2000, beat[:600], 1200), "excluded", "lasts 0.300 s"},
		"nan.wav":      {float(2000, notNumbers), "failed", "4000"},
		"silent.wav":   {pcm(2000, make([]int16, 8000), 16000), "failed", "silent"},
		"gigantic.wav": {pcm(2000, beat, 4294967295), "done", ""},
	}
	data := t.TempDir()
	for name, f := range files {
		if err := os.WriteFile(filepath.Join(data, name), f.content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out := filepath.Join(t.TempDir(), "out")
	status, stdout, stderr := call(t, "run", "--data", data, "--layout", "plain", "--out", out, "--json")
	if status != 3 {
		t.Fatalf("status %d, want 3: %s", status, stderr)
	}
	var result struct {
		Counts   struct{ In, Done, Failed, Excluded int }
		Problems []struct{ Recording, Outcome, Reason string }
	}
	if err := json.Unmarshal([]byte(stdout), &result); err != nil {
		t.Fatalf("%v:\n%s", err, stdout)
	}
	if c := result.Counts; c.In != len(files) || c.In != c.Done+c.Failed+c.Excluded || c.Done != 1 {
		t.Errorf("counts %+v for %d files", c, len(files))
	}
	for _, p := range result.Problems {
		f := files[p.Recording+".wav"]
		if p.Outcome != f.outcome || !strings.Contains(p.Reason, f.want) || f.want == "" {
			t.Errorf("%s: %s: %s; want %s: …%s…", p.Recording, p.Outcome, p.Reason, f.outcome, f.want)
		}
	}
}

func TestBadAnnotations(t *testing.T) {
	data := t.TempDir()
	beat := make([]int16, 20000)
	for i := range beat {
		beat[i] = int16(8000 * math.Sin(float64(i)*0.16) * math.Exp(-float64(i%800)/80))
	}
	for name, reference := range map[string]string{
		"letters": "start_s,end_s,state\n0.1,0.2,S1\n0.2,x.4,systole\n",
		"columns": "start_s,end_s,state\n0.1,0.2,S1\n0.2,systole\n",
		"code":    "start_s,end_s,state\n0.1,0.2,S9\n",
		"back":    "start_s,end_s,state\n0.4,0.2,S1\n",
	} {
		if err := os.WriteFile(filepath.Join(data, name+".wav"), pcm(2000, beat, 40000), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(data, name+".csv"), []byte(reference), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	status, stdout, stderr := call(t, "scan", "--data", data, "--layout", "plain", "--all")
	if status != 0 {
		t.Fatalf("status %d: %s", status, stderr)
	}
	for _, want := range []string{"letters.csv:3", "columns.csv:3", "code.csv:2", "back.csv:2"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("scan does not name %s:\n%s", want, stdout)
		}
	}
	out := filepath.Join(t.TempDir(), "out")
	status, stdout, stderr = call(t, "run", "--data", data, "--layout", "plain", "--out", out)
	if status != 0 {
		t.Fatalf("status %d: %s", status, stderr)
	}
	if !strings.Contains(stdout, "4 recordings: 4 done") {
		t.Errorf("a bad reference must not cost the recording:\n%s", stdout)
	}
}

func TestLayoutWithAMisspeltKey(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "mine.yaml")
	if err := os.WriteFile(path, []byte("name: mine\ntitel: My recordings\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	status, _, stderr := call(t, "scan", "--data", dir, "--layout", path)
	if status != 1 || !strings.Contains(stderr, "mine.yaml:2") || !strings.Contains(stderr, "titel") {
		t.Errorf("status %d: %s", status, stderr)
	}
}
