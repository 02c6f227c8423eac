package features

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// WriteMarkdown writes features as a Markdown table, one row each.
func WriteMarkdown(w io.Writer, features []Feature) error {
	var b strings.Builder
	b.WriteString("| name | level | unit | definition | range | null | gain g | source |\n")
	b.WriteString("|---|---|---|---|---|---|---|---|\n")
	for _, f := range features {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s | %s | %s | %s |\n", f.Name, f.Level, f.Unit,
			cell(f.Definition), cell(f.Range), cell(f.Null), f.Scaling, cell(f.Source))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// cell returns s with the sign that divides the cells of a table escaped.
func cell(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

// entry is a row of the catalogue as it stands in JSON.
type entry struct {
	Name       string  `json:"name"`
	Level      Level   `json:"level"`
	Unit       string  `json:"unit"`
	Definition string  `json:"definition"`
	Source     string  `json:"source"`
	Range      string  `json:"range"`
	Null       string  `json:"null"`
	Scaling    Scaling `json:"gain"`
}

// WriteJSON writes features as an indented JSON array of objects.
func WriteJSON(w io.Writer, features []Feature) error {
	entries := make([]entry, len(features))
	for i, f := range features {
		entries[i] = entry{f.Name, f.Level, f.Unit, f.Definition, f.Source, f.Range, f.Null, f.Scaling}
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(entries)
}
