package pages

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"phonocycle/eval/report"
	"phonocycle/pipeline/table/atomicfile"
	"phonocycle/pipeline/workers"
)

// ReportFiles are the files of a report.
type ReportFiles struct {
	Out       string // the page
	Figures   string // folder for figures, or empty
	Tables    string // folder for tables, or empty
	Overwrite bool   // also files that the program did not make
	Progress  workers.Progress
}

// WriteReport writes a report and returns the paths of all files. Where one of
// them may not be replaced, none is written.
func WriteReport(page *report.Page, files ReportFiles) ([]string, error) {
	content, err := document(page)
	if err != nil {
		return nil, err
	}
	all := []report.File{{Name: files.Out, Content: content}}
	for _, folder := range []struct {
		dir  string
		make func() ([]report.File, error)
	}{{files.Figures, func() ([]report.File, error) { return figureFiles(page, files.Progress) }}, {files.Tables, page.TableFiles}} {
		if folder.dir == "" {
			continue
		}
		list, err := folder.make()
		if err != nil {
			return nil, err
		}
		for _, f := range list {
			all = append(all, report.File{Name: filepath.Join(folder.dir, f.Name), Content: f.Content})
		}
	}
	return writeFiles(all, files.Overwrite)
}

// figureFiles draws the figures of a page and says how far it is.
func figureFiles(page *report.Page, p workers.Progress) ([]report.File, error) {
	p = workers.OrSilent(p)
	defer p.Done()
	return page.FigureFiles(func(done, all int) {
		if done == 1 {
			p.Start("figures", all)
		}
		p.Step(1)
	})
}

// writeFiles writes files, each whole or not at all, and none where one may not
// be replaced. It returns their paths.
func writeFiles(files []report.File, overwrite bool) (written []string, err error) {
	for _, f := range files {
		if err := atomicfile.CheckReplace(f.Name, f.Content, overwrite); err != nil {
			return nil, err
		}
	}
	for _, f := range files {
		if err := os.MkdirAll(filepath.Dir(f.Name), 0o755); err != nil {
			return written, fmt.Errorf("folder of %s: %w", f.Name, err)
		}
		if err := atomicfile.Write(f.Name, f.Content); err != nil {
			return written, err
		}
		written = append(written, f.Name)
	}
	return written, nil
}

// document returns a page as a file.
func document(page interface{ Write(io.Writer) error }) ([]byte, error) {
	var b bytes.Buffer
	err := page.Write(&b)
	return b.Bytes(), err
}

// WriteTeachingPage writes a teaching page to a file; overwrite allows one that
// the program did not make.
func WriteTeachingPage(page *report.TeachingPage, path string, overwrite bool) error {
	content, err := document(page)
	if err != nil {
		return err
	}
	_, err = writeFiles([]report.File{{Name: path, Content: content}}, overwrite)
	return err
}
