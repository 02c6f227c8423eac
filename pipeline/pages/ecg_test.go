package pages

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/synth"
)

const ecgPeople = `name: ecg
title: Six recordings
rate: 2000
people:
  - {id: p1, age: 44, sex: female, heart-rate: 70, recordings: [{site: mitral, duration: 12s, noise: pink, snr: 25}]}
  - {id: p2, age: 52, sex: male, heart-rate: 85, recordings: [{site: mitral, duration: 12s, noise: pink, snr: 25}]}
  - {id: p3, age: 30, sex: female, heart-rate: 75, recordings: [{site: mitral, duration: 12s, noise: pink, snr: 20}]}
  - {id: p4, age: 71, sex: male, heart-rate: 66, recordings: [{site: mitral, duration: 12s, noise: pink, snr: 20}]}
  - {id: p5, age: 38, sex: female, heart-rate: 90, recordings: [{site: mitral, duration: 12s, noise: pink, snr: 15}]}
  - {id: p6, age: 29, sex: male, heart-rate: 100, recordings: [{site: mitral, duration: 12s, noise: pink, snr: 20}]}
`

// ecgInput returns synthetic data with an ECG beside each recording, whose R waves
// stand 60 ms before the middle of each true S1. The layout says 70 ms. The second
// recording has no ECG, and of the third the samples are missing.
func ecgInput(t *testing.T) config.Input {
	t.Helper()
	root := t.TempDir()
	scenario, err := synth.ParseScenario("people.yaml", []byte(ecgPeople))
	if err == nil {
		err = scenario.Write(context.Background(), root, 3)
	}
	if err != nil {
		t.Fatal(err)
	}
	layout := filepath.Join(root, "ecg.yaml")
	text, err := os.ReadFile(layout)
	if err != nil {
		t.Fatal(err)
	}
	const rule = "  - name: ecg\n    kind: ecg\n    paths: [\"{dir}/{id}.hea\"]\n    signal: ECG\n    delay: 70ms\n    optional: true\n"
	text = bytes.Replace(text, []byte("S2: S2, diastole: diastole}\n"), []byte("S2: S2, diastole: diastole}\n"+rule), 1)
	if err := os.WriteFile(layout, text, 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := dataset.LoadLayout(layout)
	if err != nil {
		t.Fatal(err)
	}
	set, err := dataset.Open(root, l)
	if err != nil {
		t.Fatal(err)
	}
	defer set.Close()
	for i := range set.Recordings {
		rec := &set.Recordings[i]
		ref, _, err := set.Reference(rec, 4000, 0)
		if err != nil {
			t.Fatal(err)
		}
		if i == 1 {
			continue
		}
		base := filepath.Join(root, strings.TrimSuffix(rec.Audio, ".wav"))
		header := fmt.Sprintf("%s 1 500\n%s.dat 16 1000 16 0 0 0 0 ECG\n", rec.ID, rec.ID)
		files := map[string]string{base + ".hea": header, base + ".dat": ecgSamples(ref.Intervals)}
		if i == 2 {
			delete(files, base+".dat")
		}
		for name, content := range files {
			if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	return config.Input{Data: root, Layout: layout}
}

// ecgSamples returns 16-bit samples of an ECG, at 500 samples per second, with an R wave
// 60 ms before the middle of each S1.
func ecgSamples(states []pcg.Interval) string {
	x := make([]float64, pcg.ToSamples(states[len(states)-1].End, 500))
	for _, iv := range states {
		if iv.State != pcg.S1 {
			continue
		}
		r := (iv.Centre() - 60*time.Millisecond).Seconds()
		for i := max(0, int(500*(r-0.1))); i < min(len(x), int(500*(r+0.1))); i++ {
			x[i] += math.Exp(-math.Pow((float64(i)/500-r)/0.015, 2))
		}
	}
	var b []byte
	for _, v := range x {
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(1000*v)))
	}
	return string(b)
}

// A run that is scored against an ECG: the report has the times from R to S1, and the
// examples and the teaching page show the ECG.
func TestPagesWithAnECG(t *testing.T) {
	input := ecgInput(t)
	c := config.Default()
	c.Inputs, c.Method, c.Out, c.Reference = []config.Input{input}, "duration-hmm", filepath.Join(t.TempDir(), "results"), "ecg"
	c.Scoring.Resamples, c.PartSize = 200, 5
	if _, err := pipeline.Run(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	page, err := Report(context.Background(), ReportOptions{Results: []string{c.Out}, Inputs: []config.Input{input}})
	if err != nil {
		t.Fatal(err)
	}
	summary, b := page.Runs[0].Summary, page.Runs[0].Details.RToS1
	if b == nil {
		t.Fatal("no times from R to S1")
	}
	if f1 := summary.HeadlineRow.F1; f1 < 0.9 || summary.Rules.HeadlineMS != 100 || summary.Counts.Scored != 4 {
		t.Errorf("F1 %s %% within %g ms in %d recordings", f1.Percent(), summary.Rules.HeadlineMS, summary.Counts.Scored)
	}
	events := 0
	for i := range page.Runs[0].Details.Recordings {
		events += page.Runs[0].Details.Recordings[i].Events
	}
	var html bytes.Buffer
	if err := page.Write(&html); err != nil {
		t.Fatal(err)
	}
	// The reference says 70 ms after R, the sounds say 60.
	text := fmt.Sprintf("%d beats. The reference expects S1 70 ms after the R wave; the tolerance is 100 ms. The nearest predicted S1 follows after a median of ", events)
	var median float64
	_, rest, found := strings.Cut(html.String(), text)
	if _, err := fmt.Sscan(rest, &median); !found || err != nil || math.Abs(median-60) > 12 {
		t.Errorf("median %g ms, found %v, %v; want %q", median, found, err, text)
	}
	shown := 0
	for _, g := range page.Groups {
		for _, at := range g.Recordings {
			v := &page.Recordings[at]
			if len(v.ECG.Wave) == 0 {
				t.Errorf("recording %s is shown without its ECG: %v", v.Recording, v.Facts)
			}
			for _, r := range v.ECG.RWaves {
				shown++
				if !slices.ContainsFunc(v.Reference.Points, func(p pcg.Point) bool { return p.At == r+70*time.Millisecond }) {
					t.Errorf("recording %s: R wave at %v, and no S1 of the reference 70 ms later", v.Recording, r)
				}
			}
		}
	}
	if shown < 25 {
		t.Errorf("%d R waves are shown", shown)
	}
}

// The teaching page shows the ECG of a recording whichever reference is chosen, and
// says why one is not there.
func TestTeachingPageWithAnECG(t *testing.T) {
	c := config.Default()
	c.Inputs = []config.Input{ecgInput(t)}
	layout, err := dataset.LoadLayout(c.Inputs[0].Layout)
	if err != nil {
		t.Fatal(err)
	}
	set, err := dataset.Open(c.Inputs[0].Data, layout)
	if err != nil {
		t.Fatal(err)
	}
	defer set.Close()
	for i, want := range []string{set.Recordings[0].ID + ".hea", "", "cannot be read: "} {
		page, err := Explain(context.Background(), c, ExplainOptions{Recordings: []string{set.Recordings[i].ID}})
		if err != nil {
			t.Fatal(err)
		}
		if r := page.Recordings[0]; !strings.Contains(r.ECGText, want) || want == "" && r.ECGText != "" || (len(r.ECG.Wave) > 0) != (i == 0) {
			t.Errorf("%s: %q with %d samples, want %q", r.Recording, r.ECGText, len(r.ECG.Wave), want)
		}
	}
}
