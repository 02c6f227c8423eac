package program

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Each fault costs its recording, says what happened and leaves no process.
func TestFaults(t *testing.T) {
	tests := []struct {
		name       string
		words      []string
		recordings int
		want       string // of the error; empty for a segmentation
	}{
		{"answer", []string{"answer"}, 2, ""},
		{"exit before", []string{"exit-before"}, 2, `the program ended with exit status 3 before it answered; the last lines of its standard error: reading …/signal.npy | no licence\x1b[2J found`},
		{"exit at start", []string{"exit-now"}, 1, "the program ended with exit status 1 before it answered; the last lines of its standard error: no module named envelope"},
		{"exit during", []string{"exit-during"}, 1, "the program ended with exit status 1 in the middle of an answer; it wrote no message to standard error"},
		{"exit after", []string{"exit-after"}, 2, ""},
		{"crash", []string{"crash"}, 1, "the program was ended by the system (signal: killed)"},
		{"closed output", []string{"close-output"}, 1, "the program closed its standard output before it answered"},
		{"garbage", []string{"write", "loading model …\x07"}, 2, `the program wrote a line that is no answer in JSON: "loading model …\\a"; messages belong on standard error`},
		{"line of 100 MB", []string{"long-line"}, 1, "the program wrote a line of more than 16 MB"},
		{"another recording", []string{"write", "{'recording':'b2','error':'x'}"}, 1, `the program answered for recording "b2", not for this one`},
		{"flood of messages", []string{"errors-flood"}, 1, ""},
		{"flood and exit", []string{"errors-flood", "exit"}, 1, "the program ended with exit status 5 before it answered; the last lines of its standard error: the end of the flood"},
		{"child left, answer", []string{"child-and-answer"}, 2, ""},
		{"child left, exit", []string{"child-and-exit"}, 1, "the program ended with exit status 6 before it answered"},
		{"daemon left, answer", []string{"daemon-and-answer"}, 1, ""},
		{"daemon left, exit", []string{"daemon-and-exit"}, 1, "the program ended with exit status 7 before it answered"},
		{"does not end", []string{"answer", beats, "stay"}, 1, ""},
		{"two answers", []string{"twice"}, 1, ""},
	}
	t.Setenv("TMPDIR", t.TempDir())
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file := methodFile(t, tt.words)
			s := newTestSegmenter(t, file)
			for range tt.recordings {
				seg, err := s.Segment(t.Context(), testInput("a1"))
				if err == nil {
					err = seg.Check(2 * time.Second)
				}
				switch {
				case tt.want == "" && err != nil:
					t.Fatal(err)
				case tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)):
					t.Fatalf("error\n%v\nwant\n%s", err, tt.want)
				}
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			checkNothingLeft(t, file)
		})
	}
}

// A command that does not start costs each recording.
func TestCommandsThatDoNotStart(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	dir := t.TempDir()
	for name, mode := range map[string]os.FileMode{"plain.sh": 0o600, "empty": 0o700} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("\x01no program"), mode); err != nil {
			t.Fatal(err)
		}
	}
	for command, want := range map[string]string{
		"no-such-command": "command no-such-command is not found: install it, or write ./no-such-command for a program in the folder of the method's file",
		"./missing.sh":    "command ./missing.sh is not found in the folder of the method's file",
		"./plain.sh":      "command ./plain.sh must not be run: make the file executable (chmod +x)",
		"./empty":         "command ./empty does not start: exec format error",
	} {
		file := filepath.Join(dir, "method.yaml")
		text := fmt.Sprintf("name: test\ntitle: test\nanswers: points\nsegment: [%s]\n", command)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		s := newTestSegmenter(t, file)
		for range 2 {
			if _, err := s.Segment(t.Context(), testInput("a1")); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: error %v", command, err)
			}
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		checkNothingLeft(t, file)
	}
}

// At the time limit, and when the run is stopped, the program is killed at once; the
// next recording gets a new process.
func TestEndOfContext(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	for _, what := range []string{"silence", "child-and-answer"} {
		file := methodFile(t, []string{what})
		s := newTestSegmenter(t, file)
		for range 2 {
			ctx, cancel := context.WithTimeout(t.Context(), 500*time.Millisecond)
			begun := time.Now()
			_, err := s.Segment(ctx, testInput("a1"))
			cancel()
			if took := time.Since(begun); took > 2*time.Second {
				t.Errorf("%s: ended after %v", what, took)
			}
			if what == "silence" && (!errors.Is(err, context.DeadlineExceeded) || err.Error() != "the program gave no answer; the last lines of its standard error: waiting for a lock") {
				t.Errorf("error %v", err)
			}
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := s.Segment(ctx, testInput("a1")); !errors.Is(err, context.Canceled) && what == "silence" {
			t.Errorf("error %v", err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		checkNothingLeft(t, file)
	}
}

// A fault that comes from an earlier recording costs no recording.
func TestFaultsOfEarlierRecordings(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	for what, repeated := range map[string]int{"every-third": 3, "exit-after": 6, "twice": 6} {
		file := methodFile(t, []string{what})
		s := newTestSegmenter(t, file)
		for i := range 7 {
			if _, err := s.Segment(t.Context(), testInput(fmt.Sprint("a", i))); err != nil {
				t.Errorf("%s: recording %d: %v", what, i, err)
			}
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if s.Repeated() != repeated {
			t.Errorf("%s: %d recordings were repeated, want %d", what, s.Repeated(), repeated)
		}
		checkNothingLeft(t, file)
	}
}

// The processor time of a program is known after its end.
func TestProcessTime(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	s := newTestSegmenter(t, methodFile(t, []string{"answer"}))
	if _, err := s.Segment(t.Context(), testInput("a1")); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if got := s.ProcessTime(); got <= 0 || got > time.Minute {
		t.Errorf("processor time %v", got)
	}
}
