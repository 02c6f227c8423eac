package dataset

import (
	"errors"
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"
)

// checkPattern refuses patterns that are malformed or lead out of the root.
func checkPattern(pattern string) error {
	if err := checkLocal(pattern); err != nil {
		return err
	}
	if strings.Count(pattern, "**") > 4 {
		return fmt.Errorf("%q: at most four **", pattern)
	}
	for _, part := range strings.Split(pattern, "/") {
		if part != "**" && strings.Contains(part, "**") {
			return fmt.Errorf("%q: ** stands for whole folders, alone between slashes", pattern)
		}
		if _, err := path.Match(part, ""); err != nil {
			return fmt.Errorf("%q: a [ without its ], or a \\ with nothing after it", pattern)
		}
	}
	return nil
}

// matchPattern reports whether a slash-separated path matches a pattern in
// which ** stands for any number of folders, none included.
func matchPattern(pattern, name string) bool {
	return matchParts(strings.Split(pattern, "/"), strings.Split(name, "/"))
}

func matchParts(pattern, name []string) bool {
	switch {
	case len(pattern) == 0:
		return len(name) == 0
	case pattern[0] == "**":
		return matchParts(pattern[1:], name) || len(name) > 0 && matchParts(pattern, name[1:])
	case len(name) == 0:
		return false
	}
	ok, _ := path.Match(pattern[0], name[0])
	return ok && matchParts(pattern[1:], name[1:])
}

var placeholder = regexp.MustCompile(`\{[^{}]*\}`)

// expand fills a template; ok is false if a field it uses is empty, as for a
// group that took no part in the match. {dir} may be empty: the root.
func expand(template string, field map[string]string) (s string, ok bool) {
	ok = true
	s = placeholder.ReplaceAllStringFunc(template, func(p string) string {
		name := p[1 : len(p)-1]
		v := field[name]
		if v == "" && name != "dir" {
			ok = false
		}
		return v
	})
	return s, ok
}

// expandPath is expand for paths, cleaned; {dir} of the root is ".".
func expandPath(template string, field map[string]string) (string, bool) {
	s, ok := expand(template, field)
	return path.Clean(strings.TrimPrefix(s, "/")), ok
}

var errEscape = errors.New("leads out of the data root: give a path below it")

// checkLocal refuses paths that are absolute or climb.
func checkLocal(p string) error {
	if p == "" {
		return errors.New("missing: an empty path")
	}
	if strings.HasPrefix(p, "/") || strings.Contains(p, `\`) || strings.Contains(p, ":") || slices.Contains(strings.Split(p, "/"), "..") {
		return fmt.Errorf("%q %w, with / between folders", p, errEscape)
	}
	return nil
}
