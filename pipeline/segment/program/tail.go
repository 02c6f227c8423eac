package program

import (
	"bytes"
	"strings"
	"sync"

	"phonocycle/pipeline/printable"
)

// What is kept and shown of the messages of a program.
const (
	maxTail      = 8 << 10
	maxTailLines = 3
	maxLine      = 200 // characters of a line

	lineEnds = "\r\n"
)

// tail takes all that a program writes as messages and keeps the end of it, so that
// a program can write without bound and is never blocked.
type tail struct {
	line func(string) // told of each line as it comes; may be nil

	mu   sync.Mutex
	kept []byte
	cut  bool // the first line in kept may lack its beginning
}

// Write implements io.Writer.
func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	n := len(p)
	for t.line != nil {
		end := bytes.IndexAny(p, lineEnds)
		if end < 0 {
			break
		}
		t.keep(p[:end])
		begin := bytes.LastIndexAny(t.kept, lineEnds) + 1
		if text := strings.TrimSpace(string(t.kept[begin:])); text != "" {
			t.line(shown(text, maxLine))
		}
		t.keep(p[end : end+1])
		p = p[end+1:]
	}
	t.keep(p)
	return n, nil
}

func (t *tail) keep(p []byte) {
	if len(p) > maxTail {
		p, t.cut = p[len(p)-maxTail:], true
	}
	if over := len(t.kept) + len(p) - maxTail; over > 0 {
		t.kept, t.cut = append(t.kept[:0], t.kept[over:]...), true
	}
	t.kept = append(t.kept, p...)
}

// clear forgets what was written so far.
func (t *tail) clear() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.kept, t.cut = t.kept[:0], false
}

// lines returns the lines kept that are not blank.
func (t *tail) lines() (lines []string) {
	text := string(t.kept)
	if t.cut {
		if i := strings.IndexAny(text, lineEnds); i >= 0 {
			text = text[i:]
		}
	}
	for line := range strings.FieldsFuncSeq(text, func(r rune) bool { return strings.ContainsRune(lineEnds, r) }) {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

// last returns the last lines on one line of printable text. The name of the
// private folder, which differs from process to process, is left out.
func (t *tail) last(folder string) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	lines := t.lines()
	lines = lines[max(0, len(lines)-maxTailLines):]
	for i, line := range lines {
		lines[i] = shown(strings.ReplaceAll(line, folder, "…"), maxLine)
	}
	return strings.Join(lines, " | ")
}

// shown returns the beginning of a text of a program as printable text on one line.
func shown(text string, most int) string {
	n := 0
	for i := range text {
		if n++; n > most {
			text = text[:i] + "…"
			break
		}
	}
	return printable.Name(text)
}
