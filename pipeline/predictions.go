package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// Predictions are the segmentations that another program made: Parquet files
// with the columns of the table states, or text that a format describes.
type Predictions struct {
	Path   string // folder or file
	Format string // YAML file, see dataset.Format; empty for Parquet
}

// ScorePredictions scores the segmentations of another program against the
// references of the configured data, and writes the tables of a run but for
// cycles. Recordings without a prediction fail and count as missed; a prediction
// for a recording that the data set does not have is an error.
func ScorePredictions(ctx context.Context, c Config, of Predictions, p Progress) (*Report, error) {
	if c.Shard.Of > 0 {
		return nil, errors.New("predictions are scored on one machine: leave --shard out")
	}
	return execute(ctx, c, stage{name: stageScore, scores: true, adopts: of}, p)
}

// adopted gives the segmentation of a recording that another program made, and
// what was mended in it. It may be asked from several goroutines at once.
type adopted interface {
	of(e *entry, rate int, length time.Duration) ([]pcg.Interval, []string, error)
	close()
}

// openPredictions finds the predictions of the job, if it has any.
func (j *job) openPredictions() (err error) {
	if j.adopts.Path == "" {
		return nil
	}
	if j.adopts.Format != "" {
		err = j.openText()
	} else {
		err = j.openTable()
	}
	return err
}

// adoptedName is what stands for the method in the tables.
func (p *Predictions) adoptedName() string {
	base := filepath.Base(filepath.Clean(p.Path))
	return dataset.Printable(strings.TrimSuffix(base, filepath.Ext(base)))
}

// textPredictions are described by a format.
type textPredictions struct{ *dataset.Predictions }

func (j *job) openText() error {
	if len(j.sets) != 1 {
		return errors.New("predictions as text belong to one data set: give one --data, or write them as Parquet")
	}
	format, err := dataset.LoadFormat(j.adopts.Format)
	if err != nil {
		return err
	}
	p, err := j.sets[0].OpenPredictions(j.adopts.Path, format)
	if err != nil {
		return err
	}
	j.warnings = append(j.warnings, p.Warnings...)
	j.adopted, j.plan.Given = textPredictions{p}, p.Digest
	return nil
}

func (p textPredictions) of(e *entry, rate int, length time.Duration) ([]pcg.Interval, []string, error) {
	return p.Of(e.recording, rate, length)
}

func (p textPredictions) close() { p.Close() }

// tablePredictions hold the rows of Parquet files by recording.
type tablePredictions map[string]*tableRows

// tableRows are the rows of one recording. They stand in one file.
type tableRows struct {
	file string
	rows []dataset.Row
}

func (j *job) openTable() error {
	files, err := parquetFiles(j.adopts.Path)
	if err != nil {
		return err
	}
	p, h := tablePredictions{}, sha256.New()
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			return fmt.Errorf("predictions: %w", err)
		}
		fmt.Fprintf(h, "%s\n", digestOf(content))
		if err := p.read(j, file); err != nil {
			return err
		}
	}
	if len(p) == 0 {
		return fmt.Errorf("predictions in %s: no row whose source is %s or empty", j.adopts.Path, table.Predicted)
	}
	j.adopted, j.plan.Given = p, hex.EncodeToString(h.Sum(nil))
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

// read takes in the rows of one file.
func (p tablePredictions) read(j *job, file string) error {
	number := 0
	for row, err := range table.Read[table.State](file) {
		if err != nil {
			return err
		}
		if number++; row.Source == table.Reference {
			continue
		}
		if _, ok := j.entry(row.Recording); !ok {
			return fmt.Errorf("%s:%d: prediction for recording %q, which the data does not have: name recordings as scan does", file, number, row.Recording)
		}
		of := p[row.Recording]
		if of == nil {
			of = &tableRows{file: file}
			p[row.Recording] = of
		}
		if of.file != file {
			return fmt.Errorf("%s:%d: recording %s already stands in %s: keep its rows in one file", file, number, row.Recording, of.file)
		}
		of.rows = append(of.rows, dataset.Row{Number: number, Start: row.Start, End: row.End, State: row.State})
	}
	return nil
}

func (p tablePredictions) of(e *entry, _ int, length time.Duration) ([]pcg.Interval, []string, error) {
	rows := p[e.id]
	if rows == nil {
		return nil, nil, dataset.ErrNoPrediction
	}
	return dataset.MendRows(filepath.Base(rows.file), rows.rows, length)
}

func (p tablePredictions) close() {}

// adopt takes over what another program says of a recording.
func (e *engine) adopt(entry *entry, out *output) ([]pcg.Interval, error) {
	row := &out.recording
	row.Method = e.job.adopts.adoptedName()
	intervals, repairs, err := e.job.adopted.of(entry, int(*row.Rate), *row.Duration)
	if err != nil {
		return nil, err
	}
	for i, r := range repairs {
		repairs[i] = "prediction: " + r
	}
	if row.Repairs != "" {
		repairs = append([]string{row.Repairs}, repairs...)
	}
	row.Repairs = strings.Join(repairs, "; ")
	out.states = table.IntervalStates(entry.id, table.Predicted, intervals)
	return intervals, nil
}
