package pages

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"phonocycle/eval/report"
	"phonocycle/pipeline/table/atomicfile"
)

// ReportFiles are the files of a report.
type ReportFiles struct {
	Out     string // the page
	Figures string // folder for figures, or empty
	Tables  string // folder for tables, or empty
}

// WriteReport writes a report and returns the paths of all files.
func WriteReport(page *report.Page, files ReportFiles) ([]string, error) {
	if err := writeDocument(files.Out, page); err != nil {
		return nil, err
	}
	written := []string{files.Out}
	for _, folder := range []struct {
		dir   string
		write func(string) ([]string, error)
	}{{files.Figures, page.WriteFigures}, {files.Tables, page.WriteTables}} {
		if folder.dir == "" {
			continue
		}
		if err := os.MkdirAll(folder.dir, 0o755); err != nil {
			return written, fmt.Errorf("report: %w", err)
		}
		paths, err := folder.write(folder.dir)
		written = append(written, paths...)
		if err != nil {
			return written, err
		}
	}
	return written, nil
}

// writeDocument writes a page to a file, completely or not at all.
func writeDocument(path string, page interface{ Write(io.Writer) error }) error {
	var b bytes.Buffer
	if err := page.Write(&b); err != nil {
		return err
	}
	return atomicfile.Write(path, b.Bytes())
}

// WriteTeachingPage writes a teaching page to a file.
func WriteTeachingPage(page *report.TeachingPage, path string) error {
	return writeDocument(path, page)
}
