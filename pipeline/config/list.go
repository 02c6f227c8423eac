package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"phonocycle/configs"
	"phonocycle/pipeline/printable"
)

// The largest list that is read.
const (
	maxListBytes = 16 << 20
	maxListIDs   = 200_000
	maxIDBytes   = 4096 // of one line
)

// List names people or recordings, as the user writes them in a text file: one id
// per line. A line that begins with an exclamation mark excludes the id behind it;
// one that begins with a number sign is a comment, and empty lines do not count.
type List struct {
	Name  string // of the file without folder and extension, or of an embedded list
	File  string // for messages
	Lines []ListLine
}

// ListLine is a line of a list with an id.
type ListLine struct {
	ID      string
	Exclude bool
	Number  int // from 1
}

// LoadPeople reads a list of people: a file, or one of those embedded under
// configs/people by its bare name.
func LoadPeople(nameOrFile string) (*List, error) {
	if IsFile(nameOrFile) {
		return readList("people", nameOrFile)
	}
	content, err := configs.FS.ReadFile(path.Join("people", nameOrFile+".txt"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no embedded list of people %q: have %s; a file needs its extension, as in %s.txt",
			nameOrFile, strings.Join(PeopleNames(), ", "), nameOrFile)
	}
	if err != nil {
		return nil, err
	}
	return parseList("people", nameOrFile, content)
}

// LoadRecordings reads a list of recordings from a file.
func LoadRecordings(file string) (*List, error) { return readList("recordings", file) }

// PeopleNames returns the names of the embedded lists of people, sorted.
func PeopleNames() []string { return embeddedNames("people", ".txt") }

// readList reads a list from a regular file: opening a pipe would wait for its
// other end.
func readList(of, name string) (*List, error) {
	info, err := os.Stat(name)
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s is not a file", name)
	}
	if err != nil {
		return nil, fmt.Errorf("list of %s: %w; give a text file with one id per line with --%s", of, err, of)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("list of %s: %w", of, err)
	}
	defer f.Close()
	content, err := io.ReadAll(io.LimitReader(f, maxListBytes+1))
	if err != nil {
		return nil, fmt.Errorf("list of %s: %w", of, err)
	}
	return parseList(of, name, content)
}

// parseList reads the text of a list. Its errors name file and line.
func parseList(of, file string, content []byte) (*List, error) {
	base := filepath.Base(file)
	l := &List{Name: printable.Name(strings.TrimSuffix(base, filepath.Ext(base))), File: file}
	if len(content) > maxListBytes {
		return nil, fmt.Errorf("list of %s %s: more than the %d MiB that a list can have", of, file, maxListBytes>>20)
	}
	if bytes.IndexByte(content, 0) >= 0 {
		return nil, fmt.Errorf("list of %s %s: it holds zero bytes: save it as plain text in UTF-8, with one id per line", of, file)
	}
	seen := map[string]int{} // position in l.Lines, from 1, by id
	number := 0
	fail := func(format string, args ...any) (*List, error) {
		return nil, fmt.Errorf("list of %s %s:%d: %s", of, file, number, fmt.Sprintf(format, args...))
	}
	for text := range strings.Lines(strings.TrimPrefix(string(content), "\ufeff")) {
		number++
		text = strings.TrimSpace(text)
		if text == "" || text[0] == '#' {
			continue
		}
		id, exclude := strings.CutPrefix(text, "!")
		line := ListLine{ID: printable.Name(strings.TrimSpace(id)), Exclude: exclude}
		switch at := seen[line.ID]; {
		case line.ID == "":
			return fail("an exclamation mark without an id: write it before the id that it excludes")
		case len(line.ID) > maxIDBytes:
			return fail("an id of %d bytes: write one id per line", len(line.ID))
		case len(l.Lines) == maxListIDs:
			return fail("more than %d ids: name those that are left out instead, each behind an exclamation mark", maxListIDs)
		case at > 0 && l.Lines[at-1].Exclude == exclude:
			return fail("%s stands in line %d already: remove one of the two lines", text, l.Lines[at-1].Number)
		case at > 0:
			return fail("%s is named and excluded, see line %d: remove one of the two lines", line.ID, l.Lines[at-1].Number)
		}
		line.Number = number
		l.Lines = append(l.Lines, line)
		seen[line.ID] = len(l.Lines)
	}
	if len(l.Lines) == 0 {
		return nil, fmt.Errorf("list of %s %s: it holds no id: write one per line", of, file)
	}
	return l, nil
}
