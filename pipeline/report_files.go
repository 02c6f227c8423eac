package pipeline

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"phonocycle/eval/report"
	"phonocycle/pipeline/table"
)

// PageFiles says where a report is written.
type PageFiles struct {
	Out     string // the page
	Figures string // folder for its figures as files, or empty
	Tables  string // folder for its tables as files, or empty
}

// WritePage writes a report and returns the paths of all files.
func WritePage(page *report.Page, files PageFiles) ([]string, error) {
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

// writeDocument writes a page to a file that exists whole or not at all.
func writeDocument(path string, page interface{ Write(io.Writer) error }) error {
	var b bytes.Buffer
	if err := page.Write(&b); err != nil {
		return err
	}
	return table.WriteFileAtomic(path, b.Bytes())
}
