package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"phonocycle/pipeline/pcg"
)

// tinyPeople has eight recordings of six people, of 24 s together. Those of t3 and
// t4 are longer and shorter than the others.
const tinyPeople = `name: tiny
title: Eight recordings of six invented people
rate: 2000
people:
  - {id: t1, age: 44, sex: female, heart-rate: 70, recordings: [{site: aortic, duration: 3s, noise: pink, snr: 25}, {site: mitral, duration: 3s, noise: pink, snr: 0}]}
  - {id: t2, age: 52, sex: male, heart-rate: 85, recordings: [{site: aortic, duration: 3s, noise: pink, snr: 10}]}
  - {id: t3, age: 7, sex: female, heart-rate: 110, recordings: [{site: mitral, duration: 4s, noise: pink, snr: 3}]}
  - {id: t4, age: 71, sex: male, heart-rate: 66, recordings: [{site: mitral, duration: 2s, noise: brown, snr: 10}]}
  - {id: t5, age: 38, sex: female, heart-rate: 90, recordings: [{site: aortic, duration: 3s, noise: pink, snr: 2}, {site: mitral, duration: 3s, noise: pink, snr: 24}]}
  - {id: t6, age: 29, sex: male, heart-rate: 100, recordings: [{site: aortic, duration: 3s, noise: pink, snr: 20}]}
`

// predictionsFormat describes the files exact.csv and late.csv.
const predictionsFormat = `kind: intervals
key: recording
match: "{id}"
header: present
columns: {start: from, end: to, state: state}
unit: seconds
states: {S1: S1, systole: systole, S2: S2, diastole: diastole}
`

// The options of the tiny data sets.
const (
	tiny   = "--data tiny --layout tiny/tiny.yaml"
	linked = "--data linked --layout tiny/tiny.yaml" // the same behind a symbolic link
	twice  = "--data linked --layout twice.yaml"     // the same with a second reference, see writeSecond
	untold = "--data untold --layout tiny/tiny.yaml" // the same without the table of people
	flawed = "--data flawed --layout plain"          // files with faults
)

// tinyFolder holds the data sets and the results that the tests of the commands
// share, made when first needed. They stay as they are: a test writes to places of
// its own.
var tinyFolder struct {
	once sync.Once
	dir  string
	err  error
}

// inTinyFolder makes the shared folder the current one of the test.
func inTinyFolder(t *testing.T) {
	t.Helper()
	f := &tinyFolder
	if f.dir == "" {
		f.dir, f.err = os.MkdirTemp("", "phonocycle")
	}
	if f.err == nil {
		t.Chdir(f.dir)
		f.once.Do(func() { f.err = writeTiny() })
	}
	if f.err != nil {
		t.Fatal(f.err)
	}
}

// writeTiny writes to the current folder:
//
//	tiny, linked, untold, flawed  data sets, see the constants
//	twice.yaml                    a layout of linked
//	exact, late                   scores of exact.csv and late.csv, see writePredictions
//	peaks                         a run of shannon-peaks in parts of four recordings
func writeTiny() error {
	err := os.WriteFile("tiny-people.yaml", []byte(tinyPeople), 0o644)
	calls := func(want int, lines ...string) {
		for _, line := range lines {
			if status, _, stderr := invoke(strings.Fields(line)...); status != want && err == nil {
				err = fmt.Errorf("%s: status %d: %s", line, status, stderr)
			}
		}
	}
	calls(0, "synth --people tiny-people.yaml --out tiny")
	err = errors.Join(err,
		os.CopyFS("untold", os.DirFS("tiny")), os.Remove("untold/people.csv"),
		os.Mkdir("linked", 0o755), os.Symlink("../tiny/recordings", "linked/recordings"),
		os.Symlink("../tiny/people.csv", "linked/people.csv"), os.Symlink("../tiny/recordings.csv", "linked/recordings.csv"),
		writeFlawed(), writePredictions(), writeSecond(),
	)
	calls(0,
		"run "+tiny+" --method shannon-peaks --resamples 50 --part-size 4 --out peaks",
		"score --predictions exact.csv --format predictions.yaml "+tiny+" --resamples 50 --out exact")
	calls(3, "score --predictions late.csv --format predictions.yaml "+tiny+" --resamples 50 --out late")
	return err
}

// writePredictions writes the reference of the tiny data set as the prediction
// exact.csv. In late.csv every sound ends 25 ms later, and t6_aortic is missing.
func writePredictions() error {
	paths, err := filepath.Glob("tiny/recordings/*.csv")
	if err != nil {
		return err
	}
	exact, late := "recording,state,from,to\n", "recording,state,from,to\n"
	for _, path := range paths {
		content, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		rows, err := csv.NewReader(strings.NewReader(string(content))).ReadAll()
		if err != nil {
			return err
		}
		id := strings.TrimSuffix(filepath.Base(path), ".csv")
		for i, row := range rows[1:] {
			exact += fmt.Sprintf("%s,%s,%s,%s\n", id, row[2], row[0], row[1])
			if id == "t6_aortic" {
				continue
			}
			var from, to float64
			if _, err := fmt.Sscan(row[0]+" "+row[1], &from, &to); err != nil {
				return err
			}
			state, err := pcg.ParseState(row[2])
			if err != nil {
				return err
			}
			if state.IsSound() && i+2 < len(rows) {
				to += 0.025
			}
			if !state.IsSound() && i > 0 {
				from += 0.025
			}
			late += fmt.Sprintf("%s,%s,%.4f,%.4f\n", id, row[2], from, to)
		}
	}
	return errors.Join(os.WriteFile("exact.csv", []byte(exact), 0o644), os.WriteFile("late.csv", []byte(late), 0o644),
		os.WriteFile("predictions.yaml", []byte(predictionsFormat), 0o644))
}

// writeSecond writes the layout twice.yaml. It has a reference named second, with
// three cycles of 0.8 s of t1_aortic alone.
func writeSecond() error {
	layout, err := os.ReadFile("tiny/tiny.yaml")
	if err != nil {
		return err
	}
	_, first, found := strings.Cut(string(layout), "references:\n")
	if !found {
		return errors.New("tiny.yaml has no references")
	}
	second := strings.NewReplacer("- name: states", "- name: second\n    optional: true", "{dir}/{id}.csv", "second/{id}.csv").Replace(first)
	rows := "start_s,end_s,state\n"
	for i := range 3 {
		at := 0.8 * float64(i)
		rows += fmt.Sprintf("%.1f,%.1f,S1\n%.1f,%.1f,systole\n%.1f,%.1f,S2\n%.1f,%.1f,diastole\n", at, at+.1, at+.1, at+.3, at+.3, at+.4, at+.4, at+.8)
	}
	return errors.Join(os.WriteFile("twice.yaml", []byte(string(layout)+second), 0o644), os.Mkdir("linked/second", 0o755),
		os.WriteFile("linked/second/t1_aortic.csv", []byte(rows), 0o644))
}

// writeFlawed writes a data set with six annotations that have a gap of 50 ms
// after line 4, one whose states on lines 3 and 4 do not follow each other, and
// a file that is not audio.
func writeFlawed() error {
	audio, err := os.ReadFile("tiny/recordings/t5_mitral.wav")
	if err != nil {
		return err
	}
	files := map[string]string{"text.wav": "a note in the place of a recording"}
	for i := range 7 {
		name, gap, third := fmt.Sprintf("gap%d", i), 0.05, "systole"
		if i == 6 {
			name, gap, third = "order", 0, "diastole"
		}
		files[name+".wav"] = string(audio)
		rows, at := "start_s,end_s,state\n", 0.0
		for k, state := range []string{"S1", third, "S2", "diastole", "S1", "systole", "S2", "diastole"} {
			rows += fmt.Sprintf("%.3f,%.3f,%s\n", at, at+0.15, state)
			if at += 0.15; k == 2 {
				at += gap
			}
		}
		files[name+".csv"] = rows
	}
	err = os.Mkdir("flawed", 0o755)
	for name, content := range files {
		err = errors.Join(err, os.WriteFile(filepath.Join("flawed", name), []byte(content), 0o644))
	}
	return err
}

// decoded returns printed JSON as a value.
func decoded[T any](t *testing.T, text string) (v T) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("%v in %.300s", err, text)
	}
	return v
}

// cells returns the columns of a table in Parquet files, with one row per row.
func cells(t *testing.T, folder, columns string) [][]string {
	t.Helper()
	status, stdout, stderr := call(t, "csv", "--raw", "--table", folder, "--columns", columns)
	if status != 0 {
		t.Fatalf("table %s: %s", folder, stderr)
	}
	return parsed(t, stdout)[1:]
}

// parsed returns the rows of printed CSV with their heading.
func parsed(t *testing.T, text string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatalf("%v in %.300s", err, text)
	}
	return rows
}

// column returns one column of a table.
func column(t *testing.T, folder, name string) []string {
	t.Helper()
	var list []string
	for _, row := range cells(t, folder, name) {
		list = append(list, row[0])
	}
	return list
}

// files lists the names in a folder.
func files(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	slices.Sort(names)
	return names
}
