package export

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"phonocycle/pipeline/yamlcheck"
)

// SelectColumns returns the names among columns that the patterns select, in the order
// of the patterns, each once. In a pattern * stands for any characters and ? for one;
// a pattern that selects nothing is an error, for which dir names the table.
func SelectColumns(dir string, patterns, columns []string) ([]string, error) {
	var names []string
	for _, p := range patterns {
		if !strings.ContainsAny(p, "*?[") {
			names = append(names, p)
			continue
		}
		found := false
		for _, c := range columns {
			ok, err := path.Match(p, c)
			if err != nil {
				return nil, fmt.Errorf("column pattern %q: a [ without its ]", p)
			}
			if ok {
				found = true
				names = append(names, c)
			}
		}
		if !found {
			return nil, unknownPattern(dir, p, columns)
		}
	}
	seen := map[string]bool{}
	return slices.DeleteFunc(names, func(name string) bool {
		again := seen[name]
		seen[name] = true
		return again
	}), nil
}

// unknownPattern suggests the pattern over the beginnings and ends of names that was
// probably meant.
func unknownPattern(dir, pattern string, columns []string) error {
	var patterns []string
	for _, c := range columns {
		for i := range c {
			if c[i] == '_' {
				patterns = append(patterns, "*"+c[i:], c[:i+1]+"*")
			}
		}
	}
	if near := yamlcheck.Nearest(pattern, patterns); near != "" {
		return fmt.Errorf("%s has no column that fits %q: did you mean %q?", dir, pattern, near)
	}
	return fmt.Errorf("%s has no column that fits %q%s", dir, pattern, among(columns))
}

// UnknownColumn says which columns a table has, or the one that was probably meant.
func UnknownColumn(dir, name string, columns []string) error {
	if near := yamlcheck.Nearest(name, columns); near != "" {
		return fmt.Errorf("%s has no column %q: did you mean %q?", dir, name, near)
	}
	return fmt.Errorf("%s has no column %q%s", dir, name, among(columns))
}

// among lists columns, or the first of many.
func among(columns []string) string {
	const most = 40
	if len(columns) <= most {
		return ": it has " + strings.Join(columns, ", ")
	}
	return fmt.Sprintf(": of its %d columns the first are %s; csv without --columns prints all in its first line", len(columns), strings.Join(columns[:most], ", "))
}
