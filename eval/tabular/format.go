package tabular

import (
	"bytes"
	"fmt"
	"io"
	"slices"

	"phonocycle/pipeline/printable"
)

// Format is a way to write a table.
type Format string

// The formats.
const (
	Text     Format = "text"     // aligned columns for a screen
	Markdown Format = "markdown" // pipe table
	LaTeX    Format = "latex"    // table of the package booktabs
	CSV      Format = "csv"      // for programs: RFC 4180, without title and note; texts as [printable.Cell]
	HTML     Format = "html"     // element table
)

// writers holds the file extension and the writer of each format.
var writers = map[Format]struct {
	extension string
	write     func(*Table, *bytes.Buffer)
}{
	Text:     {".txt", (*Table).text},
	Markdown: {".md", (*Table).markdown},
	LaTeX:    {".tex", (*Table).latex},
	CSV:      {".csv", (*Table).csv},
	HTML:     {".html", (*Table).html},
}

// FileFormats are the formats in which tables are written as files.
var FileFormats = []Format{Markdown, LaTeX, CSV}

// ParseFormat returns the format of a name.
func ParseFormat(name string) (Format, error) {
	if _, ok := writers[Format(name)]; !ok {
		return "", fmt.Errorf("unknown table format %q: want markdown, latex, csv, html or text", name)
	}
	return Format(name), nil
}

// Extension returns the extension of files of a format, such as ".md".
func (f Format) Extension() string { return writers[f].extension }

// Write writes the table in a format.
func (t Table) Write(w io.Writer, format Format) error {
	f, ok := writers[format]
	if !ok {
		_, err := ParseFormat(string(format))
		return err
	}
	t.Title, t.Note = printable.Name(t.Title), printable.Name(t.Note)
	t.Columns = slices.Clone(t.Columns)
	for i := range t.Columns {
		c := &t.Columns[i]
		c.Group, c.Name = printable.Name(c.Group), printable.Name(c.Name)
	}
	if format != CSV {
		t = t.printed()
	}
	var b bytes.Buffer
	f.write(&t, &b)
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("table %s: %w", t.Name, err)
	}
	return nil
}
