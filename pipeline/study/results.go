package study

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/eval/tabular"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table/atomicfile"
)

// Files of the results, in the output folder.
const (
	resultFile = "study.json"
	costFile   = "study-cost.json"
	pageFile   = "study.html"
)

// results are the cells of a study scored by one set of rules.
type results struct {
	file    *File
	options *Options
	cells   []*cell
	reasons map[*cell]string // why a cell has no scores

	study *eval.Study
	costs []cellCost
}

// cellCost is what a cell or a model cost on the machine that made it.
type cellCost struct {
	Of string `json:"of"` // id of the cell, or file of the model
	rundir.Cost
}

// collect scores the cells again, design by design, and makes the study.
func (r *results) collect(ctx context.Context) error {
	var runs []eval.StudyRun
	columns := map[string]*compare.Column{} // by design
	for _, c := range r.cells {
		if r.reasons[c] != "" {
			continue
		}
		run, err := r.score(ctx, c, columns)
		if ctx.Err() != nil {
			return fmt.Errorf("interrupted; the same command goes on from there: %w", ctx.Err())
		}
		if err != nil {
			r.reasons[c] = relative(err, r.file, r.options)
			continue
		}
		runs = append(runs, *run)
	}
	var err error
	r.study, err = eval.NewStudy(r.header(), runs, r.faults(), eval.Options{Resamples: r.file.Scoring.Resamples, Seed: r.file.Scoring.Seed})
	return err
}

// score scores a cell. Its design has the recordings, references and rules of the first
// of its cells that can be scored.
func (r *results) score(ctx context.Context, c *cell, columns map[string]*compare.Column) (*eval.StudyRun, error) {
	dir := filepath.Join(r.options.Out, c.Folder)
	m, err := manifest(dir)
	if err != nil {
		return nil, err
	}
	if m.Cost != nil {
		r.costs = append(r.costs, cellCost{c.ID, *m.Cost})
	}
	opened, err := compare.Open([]string{dir}, []string{c.Method}, "")
	if err != nil {
		return nil, err
	}
	folder := opened[0]
	folder.Name = c.ID
	rules, err := folder.Rules()
	if err != nil {
		return nil, err
	}
	column := columns[c.Design]
	if column == nil {
		s := r.file.scoring()
		column = &compare.Column{Rules: rules, Options: eval.Options{Resamples: s.Resamples, Seed: s.Seed, Strata: s.Strata}, Workers: r.options.Workers}
		columns[c.Design] = column
	}
	if d := column.Rules.Difference(&rules); d != "" {
		return nil, fmt.Errorf("it was scored by other rules than the first cell of the design: %s", d)
	}
	run, err := column.Score(ctx, folder, nil)
	if err != nil {
		return nil, err
	}
	run.Name = c.Method
	return &eval.StudyRun{Run: run, Cell: c.ID, Column: c.Design, Condition: c.Condition, Digest: c.Digest}, nil
}

// header says what the study is of.
func (r *results) header() eval.StudyHeader {
	f := r.file
	h := eval.StudyHeader{
		Title: f.Title, Digest: f.digest, Version: rundir.Tool,
		Methods: namesOf(f.Methods, func(m *Method) string { return m.Name }),
		Columns: namesOf(f.Designs, func(d *Design) string { return d.Name }),
	}
	for _, text := range f.Conditions {
		name, _ := canonical(text) // checked with the file
		h.Conditions = append(h.Conditions, name)
	}
	return h
}

// faults returns the cells without scores.
func (r *results) faults() []eval.StudyFault {
	list := []eval.StudyFault{}
	for _, c := range r.cells {
		if reason := r.reasons[c]; reason != "" {
			list = append(list, eval.StudyFault{Cell: c.ID, Method: c.Method, Column: c.Design, Condition: c.Condition, Reason: reason})
		}
	}
	return list
}

// write writes study.json, the costs, the tables and the page, and returns their paths.
func (r *results) write() ([]string, error) {
	out := r.options.Out
	written := []string{filepath.Join(out, resultFile), filepath.Join(out, costFile)}
	if err := rundir.WriteJSON(written[0], r.study); err != nil {
		return nil, err
	}
	if err := rundir.WriteJSON(written[1], append(r.costs, r.modelCosts()...)); err != nil {
		return nil, err
	}
	var page bytes.Buffer
	if err := report.WriteStudy(&page, r.study); err != nil {
		return nil, err
	}
	files := []report.File{{Name: pageFile, Content: page.Bytes()}}
	add := func(t tabular.Table, formats ...tabular.Format) error {
		for _, format := range formats {
			var b bytes.Buffer
			if err := t.Write(&b, format); err != nil {
				return err
			}
			files = append(files, report.File{Name: filepath.Join(tablesFolder, t.Name+format.Extension()), Content: b.Bytes()})
		}
		return nil
	}
	for _, t := range r.study.Tables() {
		if err := add(t, tabular.FileFormats...); err != nil {
			return nil, err
		}
	}
	for _, t := range []tabular.Table{r.study.ScoreTable(), r.study.ToleranceTable()} { // for programs
		if err := add(t, tabular.CSV); err != nil {
			return nil, err
		}
	}
	if err := os.MkdirAll(filepath.Join(out, tablesFolder), 0o755); err != nil {
		return nil, fmt.Errorf("folder of the tables: %w", err)
	}
	for _, f := range files {
		path := filepath.Join(out, f.Name)
		if err := atomicfile.Write(path, f.Content); err != nil {
			return nil, err
		}
		written = append(written, path)
	}
	return written, nil
}

// modelCosts returns what the models cost that designs fit on one data set.
func (r *results) modelCosts() (costs []cellCost) {
	var models []string
	for _, c := range r.cells {
		if c.fit == nil || c.fit.model == "" || slices.Contains(models, c.fit.model) {
			continue
		}
		models = append(models, c.fit.model)
		of := cellCost{Of: filepath.ToSlash(c.fit.model)}
		if found, err := rundir.ReadJSON(costOfModel(filepath.Join(r.options.Out, c.fit.model)), &of.Cost); err == nil && found {
			costs = append(costs, of)
		}
	}
	return costs
}
