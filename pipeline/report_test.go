package pipeline

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/synth"
)

// demoRuns renders the demo's data and runs the given methods over it.
func demoRuns(t *testing.T, methods ...string) (sources []Source, folders []string) {
	t.Helper()
	data := filepath.Join(t.TempDir(), "recordings")
	if err := synth.WriteDemo(context.Background(), data, 1); err != nil {
		t.Fatal(err)
	}
	sources = []Source{{Data: data, Layout: filepath.Join(data, synth.Demo().Name+".yaml")}}
	for _, method := range methods {
		c := DefaultConfig()
		c.Sources, c.Method, c.Out = sources, method, filepath.Join(t.TempDir(), method)
		c.Scoring.Resamples = 200
		if _, err := Run(context.Background(), c, nil); err != nil {
			t.Fatal(err)
		}
		folders = append(folders, c.Out)
	}
	return sources, folders
}

func TestReportOfTwoRuns(t *testing.T) {
	sources, folders := demoRuns(t, "duration-hmm", "shannon-peaks")
	c := PageConfig{Results: folders, Sources: sources}
	page, err := ReportPage(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	if page.Comparison == nil || len(page.Comparison.Pairs) != 1 {
		t.Errorf("two runs are not compared: %+v", page.Comparison)
	}
	titles := make(map[string]int)
	for _, g := range page.Groups {
		titles[g.Title] = len(g.Views)
		for _, v := range g.Views {
			if len(v.Tracks) != 2 || len(v.Wave) == 0 || len(v.Envelope) == 0 || v.To <= v.From {
				t.Errorf("recording %s: %d tracks, %d samples, %d of the envelope, from %v to %v",
					v.Recording, len(v.Tracks), len(v.Wave), len(v.Envelope), v.From, v.To)
			}
		}
	}
	for _, title := range []string{"Best", "Middle", "Worst"} {
		if titles[title] != viewsOfAKind {
			t.Errorf("%d recordings under %s, want %d", titles[title], title, viewsOfAKind)
		}
	}

	dir := t.TempDir()
	files := PageFiles{Out: filepath.Join(dir, "report.html"), Tables: filepath.Join(dir, "tables")}
	if _, err := WritePage(page, files); err != nil {
		t.Fatal(err)
	}
	first, err := os.ReadFile(files.Out)
	if err != nil {
		t.Fatal(err)
	}
	if len(first) > 5<<20 {
		t.Errorf("the report has %d bytes", len(first))
	}
	again, err := ReportPage(context.Background(), c)
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
	sources, folders := demoRuns(t, "shannon-peaks")
	changed := filepath.Join(t.TempDir(), "recordings")
	if err := os.CopyFS(changed, os.DirFS(sources[0].Data)); err != nil {
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
	if err := os.CopyFS(unscored, os.DirFS(folders[0])); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(unscored, summaryFile)); err != nil {
		t.Fatal(err)
	}
	altered := t.TempDir()
	if err := os.CopyFS(altered, os.DirFS(folders[0])); err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(filepath.Join(altered, summaryFile))
	if err != nil {
		t.Fatal(err)
	}
	at := strings.LastIndex(string(content), `"tp": `) + len(`"tp": `) // of the headline
	content[at] = '1' + (content[at]-'0')%9                            // another digit
	if err := os.WriteFile(filepath.Join(altered, summaryFile), content, 0o644); err != nil {
		t.Fatal(err)
	}
	for name, tt := range map[string]struct {
		config PageConfig
		want   string
	}{
		"nothing":         {PageConfig{}, "no results"},
		"a strange path":  {PageConfig{Results: []string{t.TempDir()}}, "has no plan.json"},
		"no summary":      {PageConfig{Results: []string{unscored}}, "score it first"},
		"a wrong summary": {PageConfig{Results: []string{altered}}, "score it again"},
		"other audio":     {PageConfig{Results: folders, Sources: []Source{{Data: changed, Layout: sources[0].Layout}}}, "is not the file"},
	} {
		if _, err := ReportPage(context.Background(), tt.config); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, tt.want)
		}
	}
}
