package source

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// Predictions are segmentations that another program made: Parquet files with
// the columns of the table states, or text that a format describes. Where no row of
// the Parquet files has a length, the rows are points.
type Predictions struct {
	Path   string // folder or file
	Format string // YAML file, see dataset.Format; may be empty for Parquet

	// FoldsFrom is the folder of a run. Each recording is predicted by a model that
	// was not fitted on people of its fold there; empty where nothing is known.
	FoldsFrom string

	rows predictedRows
}

// predictedRows gives the states of a recording and what was repaired in them.
// Several goroutines may ask at once.
type predictedRows interface {
	of(e *corpus.Entry, rate int, length time.Duration) (dataset.Prediction, error)
	close()
}

func (p *Predictions) Open(run *setup.Run) error {
	var format *dataset.Format
	if p.Format != "" {
		f, err := dataset.LoadFormat(p.Format)
		if err != nil {
			return err
		}
		format = f
	}
	open := p.openTables
	if format != nil && format.DescribesText() {
		open = func(run *setup.Run) error { return p.openText(run, format) }
	}
	if err := open(run); err != nil {
		return err
	}
	return p.declare(run, format)
}

func (p *Predictions) Prepare(context.Context, *setup.Run, workers.Progress) error { return nil }
func (p *Predictions) Item(e *corpus.Entry) (Item, error)                          { return Item{Entry: e}, nil }
func (p *Predictions) Worker(*setup.Run) (Func, io.Closer, error)                  { return p.take, nil, nil }

func (p *Predictions) Close() {
	if p.rows != nil {
		p.rows.close()
	}
}

// take returns what the other program says about a recording.
func (p *Predictions) take(_ context.Context, it Item, _ *corpus.Loaded, row *table.Recording) (States, error) {
	row.Method = p.name()
	found, err := p.rows.of(it.Entry, int(*row.Rate), *row.Duration)
	if err != nil {
		return States{}, err
	}
	for i, r := range found.Repairs {
		found.Repairs[i] = "prediction: " + r
	}
	corpus.AddRepairs(row, found.Repairs)
	return States{found.Intervals, found.Points}, nil
}

// name stands for the method in the tables.
func (p *Predictions) name() string {
	base := filepath.Base(filepath.Clean(p.Path))
	return dataset.Printable(strings.TrimSuffix(base, filepath.Ext(base)))
}

// textPredictions are text that a format describes.
type textPredictions struct{ *dataset.Predictions }

func (p *Predictions) openText(run *setup.Run, format *dataset.Format) error {
	if len(run.Corpus.Sets) != 1 {
		return errors.New("predictions as text belong to one data set: give one --data, or write them as Parquet")
	}
	text, err := run.Corpus.Sets[0].OpenPredictions(p.Path, format)
	if err != nil {
		return err
	}
	run.Warnings = append(run.Warnings, text.Warnings...)
	p.rows, run.Plan.Segmentation, run.Plan.Points = textPredictions{text}, text.Digest, text.Points
	return nil
}

func (p textPredictions) of(e *corpus.Entry, rate int, length time.Duration) (dataset.Prediction, error) {
	return p.Of(e.Recording, rate, length)
}

func (p textPredictions) close() { p.Close() }

// tablePredictions holds the rows of Parquet files.
type tablePredictions struct {
	byRecording map[string]*tableRows
	intervals   bool // some row has a length, so that those without have lost it
}

// tableRows are the rows of one recording, which stand in one file.
type tableRows struct {
	file string
	rows []dataset.Row // at most one more than any recording of the run can have
}

func (p *Predictions) openTables(run *setup.Run) error {
	files, err := parquetFiles(p.Path)
	if err != nil {
		return err
	}
	rows, h := tablePredictions{byRecording: map[string]*tableRows{}}, sha256.New()
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			return fmt.Errorf("predictions: %w", err)
		}
		fmt.Fprintf(h, "%s\n", rundir.Digest(content))
		if err := rows.read(run.Corpus, time.Duration(run.Config.MaxDuration), file); err != nil {
			return err
		}
	}
	if len(rows.byRecording) == 0 {
		return fmt.Errorf("predictions in %s: no row whose source is %s or empty", p.Path, table.Predicted)
	}
	p.rows, run.Plan.Segmentation, run.Plan.Points = &rows, hex.EncodeToString(h.Sum(nil)), !rows.intervals
	return nil
}

// parquetFiles returns the Parquet files of a path: itself, those in the folder,
// or those in its folder of the table states.
func parquetFiles(path string) ([]string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("predictions: %w", err)
	}
	if !info.IsDir() {
		if !strings.EqualFold(filepath.Ext(path), ".parquet") {
			return nil, fmt.Errorf("predictions in %s: not a Parquet file by its name: describe a text file with --format", path)
		}
		return []string{path}, nil
	}
	for _, dir := range []string{table.PartsOf[table.State](path).Dir, path} {
		entries, err := os.ReadDir(dir)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("predictions: %w", err)
		}
		var files []string
		for _, e := range entries {
			if strings.EqualFold(filepath.Ext(e.Name()), ".parquet") {
				files = append(files, filepath.Join(dir, e.Name()))
			}
		}
		if len(files) > 0 {
			slices.Sort(files)
			return files, nil
		}
	}
	return nil, fmt.Errorf("predictions in %s: no Parquet file: describe files of text with --format", path)
}

// read takes in the rows of one file, for recordings of at most that length.
func (p *tablePredictions) read(c *corpus.Corpus, longest time.Duration, file string) error {
	number, most := 0, dataset.MaxRows(longest)
	for row, err := range table.Read[table.State](file) {
		if err != nil {
			return err
		}
		if number++; row.Origin == table.Reference {
			continue
		}
		if _, ok := c.Find(row.Recording); !ok && c.Lists(row.Recording) {
			continue // not selected
		} else if !ok {
			return fmt.Errorf("%s:%d: prediction for recording %q, which the data does not have: name recordings as scan does", file, number, row.Recording)
		}
		of := p.byRecording[row.Recording]
		if of == nil {
			of = &tableRows{file: file}
			p.byRecording[row.Recording] = of
		}
		p.intervals = p.intervals || !row.IsPoint()
		if of.file != file {
			return fmt.Errorf("%s:%d: recording %s already stands in %s: keep its rows in one file", file, number, row.Recording, of.file)
		}
		if len(of.rows) > most {
			continue // the recording fails for them
		}
		of.rows = append(of.rows, dataset.Row{Number: number, Start: row.Start, End: row.End, State: row.State})
	}
	return nil
}

func (p *tablePredictions) of(e *corpus.Entry, _ int, length time.Duration) (dataset.Prediction, error) {
	rows := p.byRecording[e.ID]
	if rows == nil {
		return dataset.Prediction{}, dataset.ErrNoPrediction
	}
	return dataset.RepairRows(filepath.Base(rows.file), rows.rows, !p.intervals, length)
}

func (p *tablePredictions) close() {}
