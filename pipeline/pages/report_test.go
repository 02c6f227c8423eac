package pages

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
)

func TestReportOfTwoRuns(t *testing.T) {
	o := ReportOptions{Results: []string{demoRun(t, "duration-hmm"), demoRun(t, "shannon-peaks")}, Inputs: []config.Input{demoInput(t)}}
	page, err := Report(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	if page.Comparison == nil || len(page.Comparison.Pairs) != 1 {
		t.Errorf("two runs are not compared: %+v", page.Comparison)
	}
	titles := make(map[string]int)
	for _, g := range page.Groups {
		titles[g.Title] = len(g.Recordings)
		for _, at := range g.Recordings {
			v := &page.Recordings[at]
			if len(v.Tracks) != 2 || len(v.Wave) == 0 || len(v.Envelope) == 0 || v.To <= v.From {
				t.Errorf("recording %s: %d tracks, %d samples, %d of the envelope, from %v to %v",
					v.Recording, len(v.Tracks), len(v.Wave), len(v.Envelope), v.From, v.To)
			}
		}
	}
	for _, title := range []string{"Best", "Median", "Worst"} {
		if titles[title] != examplesByScore {
			t.Errorf("%d recordings under %s, want %d", titles[title], title, examplesByScore)
		}
	}

	dir := t.TempDir()
	files := ReportFiles{Out: filepath.Join(dir, "report.html"), Tables: filepath.Join(dir, "tables")}
	if _, err := WriteReport(page, files); err != nil {
		t.Fatal(err)
	}
	first, err := os.ReadFile(files.Out)
	if err != nil {
		t.Fatal(err)
	}
	if len(first) > 5<<20 {
		t.Errorf("the report has %d bytes", len(first))
	}
	again, err := Report(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := again.Write(&b); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first, b.Bytes()) {
		t.Error("the same run gives another report")
	}
}

func TestReportRefuses(t *testing.T) {
	input, folder := demoInput(t), demoRun(t, "shannon-peaks")
	changed := filepath.Join(t.TempDir(), "recordings")
	if err := os.CopyFS(changed, os.DirFS(input.Data)); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(changed, "recordings", "*.wav"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no recordings: %v", err)
	}
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, append(content, 0), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	unscored := t.TempDir()
	if err := os.CopyFS(unscored, os.DirFS(folder)); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(unscored, rundir.SummaryFile)); err != nil {
		t.Fatal(err)
	}
	altered := t.TempDir()
	if err := os.CopyFS(altered, os.DirFS(folder)); err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(filepath.Join(altered, rundir.SummaryFile))
	if err != nil {
		t.Fatal(err)
	}
	at := strings.LastIndex(string(content), `"tp": `) + len(`"tp": `) // of the headline
	content[at] = '1' + (content[at]-'0')%9                            // another digit
	if err := os.WriteFile(filepath.Join(altered, rundir.SummaryFile), content, 0o644); err != nil {
		t.Fatal(err)
	}
	for name, tt := range map[string]struct {
		options ReportOptions
		want    string
	}{
		"nothing":         {ReportOptions{}, "no results"},
		"a strange path":  {ReportOptions{Results: []string{t.TempDir()}}, "has no plan.json"},
		"no summary":      {ReportOptions{Results: []string{unscored}}, "score it first"},
		"a wrong summary": {ReportOptions{Results: []string{altered}}, "score the folder again"},
		"other audio":     {ReportOptions{Results: []string{folder}, Inputs: []config.Input{{Data: changed, Layout: input.Layout}}}, "is not the file"},
	} {
		if _, err := Report(context.Background(), tt.options); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, tt.want)
		}
	}
}
