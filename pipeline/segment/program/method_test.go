package program

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/yamlcheck"
)

// whole is a file of a method with every key.
const whole = `name: envelope-peaks
title: Peaks of an envelope
citation: Nobody N. On peaks. 2026.
segment: [python3, envelope.py, segment, --model, "{model}", "--options={options}"]
fit: [python3, envelope.py, fit, "{examples}", "{model}", "{fit-options}"]
signal: {rate: 2000, band: [25, 400]}
labels: true
answers: points
durations: {S1: 0.12, S2: 0.1}
files: [weights.txt]
options: {threshold: 1, quick: false, kind: hilbert, rates: [30, 220.5], names: [a, b]}
fit-options: {seed: 7}
`

// Errors name the line, and all of them are listed.
func TestFileOfAMethod(t *testing.T) {
	tests := []struct{ from, to, want string }{
		{"", "", ""},
		{"name: envelope-peaks", "name: Envelope Peaks", `:1:7: name: "Envelope Peaks": want a name of small letters, digits and -`},
		{"name: envelope-peaks", "name: duration-hmm", ":1:7: name: duration-hmm is a method of this program: choose another name"},
		{"title: Peaks of an envelope", "title:", ":2:7: title: want a title"},
		{"labels: true", "label: true", `:7:1: unknown key "label": did you mean "labels"?`},
		{"labels: true", "labels: 3", `:7:9: labels: "3": want true or false`},
		{"segment: [python3,", `segment: ["",`, ":4:10: segment: want a command and its arguments as a list"},
		{`segment: [python3, envelope.py, segment, --model, "{model}", "--options={options}"]`, "segment: []", ":4:10: segment: want a command and its arguments as a list"},
		{`"--options={options}"`, `"{option}"`, ":4:62: segment[5]: {option} is unknown here: there are {model}, {examples}, {options}, {fit-options}"},
		{`"--options={options}"`, `"{print}; {options} {fit-options}"`, ":4:10: segment: {fit-options} belongs to the command for fit"},
		{`"--options={options}"`, "x", ":4:10: segment: the command does not use {options}"},
		{`--model, "{model}"`, "x", ":4:10: segment: the command does not use {model}"},
		{`fit: [python3, envelope.py, fit, "{examples}", "{model}", "{fit-options}"]`, "", ":4:10: segment: there is no {model} without a command for fit"},
		{`"{examples}", `, "", ":5:6: fit: the command does not use {examples}"},
		{"fit-options: {seed: 7}", "", ":5:6: fit: {fit-options} belongs to the command for fit, and the file must list fit-options"},
		{"rate: 2000", "rate: 499", `:6:16: signal.rate: "499": want a rate from 500 to 192000 Hz, or recorded`},
		{"rate: 2000", "rate: fast", `signal.rate: "fast": want a rate`},
		{"[25, 400]", "[25, 1000]", ":6:28: signal.band: want two rising edges between 0 and half the rate"},
		{"[25, 400]", "[400, 25]", "signal.band: want two rising edges"},
		{"[25, 400]", "[25]", "signal.band: want two rising edges"},
		{"[25, 400]", "[.nan, 400]", "signal.band: want two rising edges"},
		{"labels: true", "audio: path", ":7:8: audio: a program reads either signal or audio: remove one"},
		{"signal: {rate: 2000, band: [25, 400]}", "audio: file", `:6:8: audio: "file": want path`},
		{"answers: points", "answers: beats", `:8:10: answers: "beats": want intervals or points`},
		{"answers: points", "answers: intervals", "durations: only points get durations"},
		{"S1: 0.12", "S1: -1", ":9:17: durations.S1: -1: want the duration of the sound in seconds, up to 1"},
		{", S2: 0.1", "", "durations.S2: 0: want the duration"},
		{"[weights.txt]", "[missing.txt]", ":10:9: files[0]: missing.txt: no such file or directory"},
		{"[weights.txt]", "[/etc/passwd]", "files[0]: /etc/passwd: want a path that begins at the folder of the method's file"},
		{"[weights.txt]", "[.]", "files[0]: .: not a file"},
		{"threshold: 1", "threshold: {a: 1}", ":11:23: options.threshold: want a number, a text"},
		{"threshold: 1", "threshold:", "options.threshold: want a number, a text"},
		{"threshold: 1", "threshold: .inf", "options.threshold: +Inf is out of range"},
		{"threshold: 1", "threshold: 9007199254740993", "options.threshold: 9007199254740993 is out of range"},
		{"threshold: 1", "the threshold: 1", "options: option the threshold: want a name of letters, digits, - and _"},
		{"[30, 220.5]", "[]", "options.rates: an empty list does not say what it holds"},
		{"[30, 220.5]", "[30, a]", "options.rates: want a list of numbers or a list of texts"},
		{"options: {threshold", "options: 3\nx: {threshold", "options: want keys with values"},
	}
	for _, tt := range tests {
		if !strings.Contains(whole, tt.from) {
			t.Fatalf("%q is not in the file", tt.from)
		}
		dir := t.TempDir()
		path := filepath.Join(dir, "method.yaml")
		text := strings.Replace(whole, tt.from, tt.to, 1)
		for name, content := range map[string]string{path: text, filepath.Join(dir, "weights.txt"): "1"} {
			if err := os.WriteFile(name, []byte(content), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		_, err := Load(path)
		if tt.want == "" && err != nil || tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)) {
			t.Errorf("%q for %q: error\n%v\nwant\n%s", tt.to, tt.from, err, tt.want)
		}
	}
}

// What a file says is what the method is.
func TestLoad(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "method.yaml")
	digests := map[string]bool{}
	load := func() segment.Method {
		t.Helper()
		m, err := Load(path)
		if err != nil {
			t.Fatal(err)
		}
		if digests[m.Digest] {
			t.Errorf("the digest %s did not change", m.Digest)
		}
		digests[m.Digest] = true
		return m
	}
	write := func(name, content string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("method.yaml", whole)
	write("weights.txt", "1")
	m := load()
	if m.Name != "envelope-peaks" || m.Title != "Peaks of an envelope" || m.Citation == "" || m.Points || !m.Original || m.Fit == nil {
		t.Errorf("loaded %+v", m)
	}
	write("weights.txt", "2")
	load()
	write("envelope.py", "1") // a file that the commands name
	load()
	write("envelope.py", "2")
	load()
	write("method.yaml", strings.Replace(whole, "durations: {S1: 0.12, S2: 0.1}", "", 1))
	if m := load(); !m.Points {
		t.Error("without durations the method must answer points")
	}
	write("method.yaml", "name: a\ntitle: b\nsegment: [c]\nanswers: intervals\n")
	if m := load(); m.Original || m.Fit != nil || m.FitDefaults != nil || fmt.Sprint(m.Defaults()) != "&{}" {
		t.Errorf("loaded %+v", m)
	}
	if _, err := Load(filepath.Join(dir, "none.yaml")); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("error %v", err)
	}
}

// Options are decoded, refused and written like those of any method.
func TestOptions(t *testing.T) {
	m, _, err := parseMethod("method.yaml", []byte(whole))
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"{}":                       `{"threshold":1,"quick":false,"kind":"hilbert","rates":[30,220.5],"names":["a","b"]}`,
		"threshold: 0.5":           `{"threshold":0.5,"quick":false,"kind":"hilbert","rates":[30,220.5],"names":["a","b"]}`,
		"{quick: true, rates: []}": `{"threshold":1,"quick":true,"kind":"hilbert","rates":[],"names":["a","b"]}`,
		"treshold: 1":              `error: options: unknown key "treshold": did you mean "threshold"?`,
		"threshold: high":          `error: options: threshold: "high": want a number`,
	} {
		file, err := yamlcheck.Parse("x", []byte(text), 100)
		if err != nil {
			t.Fatal(err)
		}
		options := m.options.withDefaults()
		var got []byte
		if err = yamlcheck.DecodeNode("options", ast.Node(file.Docs[0].Body), options); err == nil {
			got, err = json.Marshal(options)
		}
		if err != nil {
			got = []byte("error: " + err.Error())
		}
		if string(got) != want {
			t.Errorf("%s:\n%s, want\n%s", text, got, want)
		}
	}
}

// Points get durations only as the file says, and are cut at the ends.
func TestPoints(t *testing.T) {
	bare := &answerRule{points: true}
	withDurations := &answerRule{points: true, durations: &soundDurations{120 * time.Millisecond, 100 * time.Millisecond}}
	for _, tt := range []struct {
		rule *answerRule
		rest string
		want string
	}{
		{bare, "'points':[['S1',0],['s2',0.3],['S2',0.4],['S1',2.0005]]", "points [{0s S1} {300ms S2} {400ms S2} {2s S1}], cycle 2s"},
		{withDurations, "'points':[['S1',0.02],['S2',0.3],['S1',1],['S2',1.3],['S1',1.98]]",
			"intervals [S1 [0.000 s, 0.080 s) systole [0.080 s, 0.250 s) S2 [0.250 s, 0.350 s) diastole [0.350 s, 0.940 s) S1 [0.940 s, 1.060 s) systole [1.060 s, 1.250 s) S2 [1.250 s, 1.350 s) diastole [1.350 s, 1.920 s) S1 [1.920 s, 2.000 s)], cycle 980ms"},
		{withDurations, "'points':[['S1',0.5],['S2',0.6]]", "error: point 2: S2 [0.550 s, 0.650 s) begins before S1 [0.440 s, 0.560 s) ends"},
		{withDurations, "'points':[['S1',0.5],['S1',0.9]]", "error: point 2: S1 follows S1: want S2"},
		{bare, "'points':[['S1',0.5],['S2',0.5]]", "error: point 2: S2 at 0.5 s does not lie behind the point before it, at 500ms"},
		{bare, "'points':[['S1',-1]]", "error: point 1: S1 at -1 s, before the recording begins"},
		{bare, "'points':[['S1',2.1]]", "error: point 1: S1 at 2.1 s, beyond the end of the recording at 2 s"},
		{bare, "'points':[['systole',1]]", `error: point 1 has the unknown sound "systole": there are S1 and S2`},
		{bare, "'points':[['S1',1,2]]", `error: point 1 is ["S1",1,2]: want ["S1", time], in seconds`},
		{bare, "'points':[]", `error: the answer has no sound: say "error" where none is found`},
		{bare, "'intervals':[['S1',0,1]]", `error: the answer has intervals: the file of the method says "answers: points"`},
	} {
		s, err := answered(tt.rule, tt.rest)
		got := fmt.Sprintf("intervals %v, cycle %v", s.Intervals, s.CycleLength)
		if s.Points != nil {
			got = fmt.Sprintf("points %v, cycle %v", s.Points, s.CycleLength)
		}
		if err != nil {
			got = "error: " + err.Error()
		}
		if got != tt.want {
			t.Errorf("%s:\n%s, want\n%s", tt.rest, got, tt.want)
		}
	}
}

// An answer cannot have more rows than a recording of its length.
func TestTooManyRows(t *testing.T) {
	rows := strings.TrimSuffix(strings.Repeat("['S1',1],", 1201), ",")
	if _, err := answered(&answerRule{points: true}, "'points':["+rows+"]"); err == nil || !strings.Contains(err.Error(), "1201 sounds or states, more than the 1200") {
		t.Errorf("error %v", err)
	}
}
