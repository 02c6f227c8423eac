package pages

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/synth"
)

// demoFolder holds the data of the demo and runs over it, made when first needed
// and shared by the tests.
var demoFolder string

func TestMain(m *testing.M) {
	var err error
	if demoFolder, err = os.MkdirTemp("", "pages"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(demoFolder)
	os.Exit(code)
}

// demoPeople is smaller than the demo of the program: ten recordings of six people,
// one of which is not audio. In the reference of t6_mitral S1 and S2 are exchanged. Its title must not become markup.
const demoPeople = `name: small
title: Ten <b>recordings</b> & no more
rate: 2000
people:
  - {id: t1, age: 44, sex: female, heart-rate: 70, recordings: [{site: aortic, duration: 4s, noise: pink, snr: 25}, {site: mitral, duration: 4s, noise: pink, snr: -10}]}
  - {id: t2, age: 52, sex: male, heart-rate: 85, recordings: [{site: aortic, duration: 4s, noise: pink, snr: -5}]}
  - {id: t3, age: 7, sex: female, heart-rate: 110, recordings: [{site: mitral, duration: 10s, noise: pink, snr: 20}, {site: aortic, duration: 4s, noise: pink, snr: 20}]}
  - {id: t4, age: 71, sex: male, heart-rate: 66, recordings: [{site: mitral, duration: 4s, file: text}]}
  - {id: t5, age: 38, sex: female, heart-rate: 90, recordings: [{site: aortic, duration: 4s, noise: pink, snr: 15}, {site: mitral, duration: 4s, noise: pink, snr: 24}]}
  - {id: t6, age: 29, sex: male, heart-rate: 100, recordings: [{site: aortic, duration: 4s, noise: pink, snr: 20}, {site: mitral, duration: 4s, noise: pink, snr: 18}]}
`

// demoInput returns the data of the demo.
func demoInput(t *testing.T) config.Input {
	t.Helper()
	data := filepath.Join(demoFolder, "recordings")
	s, err := synth.ParseScenario("people.yaml", []byte(demoPeople))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(data); err != nil {
		if err := s.Write(context.Background(), data, 2); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(data, "recordings", "t6_mitral.csv")
		content, err := os.ReadFile(path)
		exchanged := strings.NewReplacer("S1", "S2", "S2", "S1", "systole", "diastole", "diastole", "systole").Replace(string(content))
		if err = errors.Join(err, os.WriteFile(path, []byte(exchanged), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	return config.Input{Data: data, Layout: filepath.Join(data, "small.yaml")}
}

// demoRun returns the output folder of a run of a method over the demo.
func demoRun(t *testing.T, method string) string {
	t.Helper()
	c := config.Default()
	c.Inputs, c.Method, c.Out = []config.Input{demoInput(t)}, method, filepath.Join(demoFolder, method)
	c.Scoring.Resamples, c.PartSize = 200, 5
	if _, err := os.Stat(filepath.Join(c.Out, "manifest.json")); err == nil {
		return c.Out
	}
	if _, err := pipeline.Run(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	return c.Out
}
