package pages

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval/report"
	"phonocycle/pipeline/config"
)

// stages notes what a Progress is told.
type stages struct {
	list  []string
	steps int
}

func (s *stages) Start(stage string, total int) {
	s.list, s.steps = append(s.list, fmt.Sprintf("%s %d", stage, total)), 0
}
func (s *stages) Step(n int)  { s.steps += n }
func (s *stages) Done()       { s.list = append(s.list, fmt.Sprint("done ", s.steps)) }
func (s *stages) Note(string) {}

// Of a page with one chosen recording, all others that can be read have their
// envelope, and their sound if it is asked for.
func TestSoundsOfRecordings(t *testing.T) {
	input, folder := demoInput(t), demoRun(t, "shannon-peaks")
	sizes := make(map[Sounds]int)
	for _, tt := range []struct {
		sounds           Sounds
		players, outline int
	}{{AllSounds, 1, 8}, {ChosenSounds, 1, 0}, {NoSounds, 0, 0}} {
		b, err := newReportBuilder([]string{folder}, nil, "")
		if err != nil {
			t.Fatal(err)
		}
		told := &stages{}
		if err := b.readTables(context.Background(), told); err != nil {
			t.Fatal(err)
		}
		page, err := b.page()
		if err != nil {
			t.Fatal(err)
		}
		page.Recordings, page.Groups = b.recordings, []report.Group{{Title: "One", Recordings: []int{0}}}
		o := &ReportOptions{Inputs: []config.Input{input}, Sounds: tt.sounds, Progress: told}
		if err := addSounds(context.Background(), b.recordings, map[int]bool{0: true}, b.runs[0], o); err != nil {
			t.Fatal(err)
		}
		var written bytes.Buffer
		if err := page.Write(&written); err != nil {
			t.Fatal(err)
		}
		html := written.String()
		players, outlines, envelopes := strings.Count(html, "<audio "), strings.Count(html, `"audio":"data:audio/wav;base64,`), strings.Count(html, `"trace":"`)
		if players != tt.players || outlines != tt.outline || envelopes != 8 || strings.Count(html, "<image ") != 1 {
			t.Errorf("%s: %d players, %d sounds and %d envelopes of outlines", tt.sounds, players, outlines, envelopes)
		}
		if want := []string{"tables 10", "done 10", "sounds 10", "done 10"}; !slices.Equal(told.list, want) {
			t.Errorf("told %q, want %q", told.list, want)
		}
		sizes[tt.sounds] = len(html)
	}
	if perRecording := (sizes[AllSounds] - sizes[ChosenSounds]) / 8; perRecording > 50<<10 || perRecording < 15<<10 { // of 4 or 8 s
		t.Errorf("a sound takes %d bytes", perRecording)
	}
	if _, err := Report(context.Background(), ReportOptions{Results: []string{folder}, Sounds: "some"}); err == nil || !strings.Contains(err.Error(), `sounds of "some": want all, chosen or none`) {
		t.Errorf("some: %v", err)
	}
}

// Drawing figures as files says how far it is.
func TestProgressOfFigures(t *testing.T) {
	page, err := Report(context.Background(), ReportOptions{Results: []string{demoRun(t, "shannon-peaks")}})
	if err != nil {
		t.Fatal(err)
	}
	page.Groups = nil // figures of recordings take long
	told := &stages{}
	files, err := figureFiles(page, told)
	if err != nil {
		t.Fatal(err)
	}
	if want := []string{fmt.Sprint("figures ", len(files)/3), fmt.Sprint("done ", len(files)/3)}; !slices.Equal(told.list, want) || len(files) < 15 {
		t.Errorf("told %q of %d files, want %q", told.list, len(files), want)
	}
}
