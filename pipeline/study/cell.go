package study

import (
	"cmp"
	"encoding/json"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/synth/degrade"
)

// Folders below the output folder of a study.
const (
	cellsFolder  = "cells"
	modelsFolder = "models"
	tablesFolder = "tables"
)

// cell is a method by a design under a condition: one output folder.
type cell struct {
	ID        string // design/method/condition, in the names of the study
	Method    string
	Design    string
	Condition string // canonical; empty for the audio as it is

	// Digest identifies what the cell is made from: the plan of its run, without what
	// depends on the place of files, and, where its model is fitted first, the plan of the fit.
	// Cells of several studies with one digest are the same cell.
	Digest string
	Folder string // below the output folder of the study; empty where Err is set

	run      config.Config
	labels   []string // of its data set
	crossval bool
	fit      *fit // nil where nothing is fitted

	err error // why it cannot be made
}

// fit is what is fitted for one or more cells.
type fit struct {
	digest string // of what decides the models
	folds  int    // of a cross-validation; 0 for one model
	run    config.Config
	model  string // file of the one model, below the output folder
}

// cells returns all cells of the study by design, method and condition. What cannot be
// made, as without its data set, has an error.
func (f *File) cells(o *Options) []*cell {
	var list []*cell
	for i := range f.Designs {
		d := &f.Designs[i]
		for j := range f.Methods {
			m := &f.Methods[j]
			if len(d.Methods) > 0 && !slices.Contains(d.Methods, m.Name) {
				continue
			}
			list = append(list, f.cellsOf(d, m, o)...)
		}
	}
	return list
}

// cellsOf returns the cells of a method by a design.
func (f *File) cellsOf(d *Design, m *Method, o *Options) []*cell {
	p, err := f.prepare(d, m, o)
	conditions := d.Conditions
	if len(conditions) == 0 {
		conditions = f.Conditions
	}
	var list []*cell
	for _, text := range conditions {
		name, _ := canonical(text) // checked with the file
		c := &cell{ID: strings.Join([]string{d.Name, m.Name, conditionName(name)}, "/"), Method: m.Name, Design: d.Name, Condition: name, crossval: d.CrossValidate != "", err: err}
		if err == nil {
			c.run, c.fit, c.labels = p.run, p.fit, p.plan.Labels
			c.run.Condition = name
			c.err = c.identify(p, f.ConditionSeed)
		}
		list = append(list, c)
	}
	return list
}

// prepared is what the cells of a method by a design have in common.
type prepared struct {
	run  config.Config
	fit  *fit
	plan rundir.Plan // of the run on audio as it is
}

// prepare finds out what a method by a design needs.
func (f *File) prepare(d *Design, m *Method, o *Options) (p prepared, err error) {
	if p.run, err = f.config(d, m, o); err != nil {
		return p, err
	}
	method, err := p.run.LoadFit()
	if err != nil {
		return p, err
	}
	fits := method.Fit != nil
	var plan *rundir.Plan
	switch {
	case d.CrossValidate != "":
		if plan, err = pipeline.PlanCrossval(p.run); err == nil && fits {
			p.fit = &fit{digest: digestOfFit(plan), folds: p.run.Folds}
		}
	case d.FitOn != "" && fits:
		if p.fit, err = f.fitOn(d.FitOn, p.run, o); err == nil {
			p.run.Model = filepath.Join(o.Out, p.fit.model)
			plan, err = dataPlan(p.run, method)
		}
	default:
		plan, err = pipeline.PlanRun(p.run)
	}
	if err == nil {
		p.plan = *plan
	}
	return p, err
}

// config returns the run of a method by a design on audio as it is. What a run
// configuration says of data, folds, scores and output gives way to the study.
func (f *File) config(d *Design, m *Method, o *Options) (config.Config, error) {
	c := config.Default()
	if m.Config != "" {
		var err error
		if c, err = config.Load(f.named(m.Config)); err != nil {
			return c, err
		}
	} else {
		c.Method = f.named(m.Method)
	}
	if m.Model != "" {
		c.Model = f.named(m.Model)
	}
	if err := c.MergeOptions(m.Options, m.Fit); err != nil {
		return c, err
	}
	f.read(&c, f.dataSet(d.scored()), o)
	c.Reference = cmp.Or(d.Reference, c.Reference)
	c.Folds, c.FoldSeed, c.Overlap, c.ModelsFrom = config.Default().Folds, config.Default().FoldSeed, config.RefuseOverlap, ""
	if d.Folds != nil {
		c.Folds = *d.Folds
	}
	if d.FoldSeed != nil {
		c.FoldSeed = *d.FoldSeed
	}
	if d.Overlap != "" {
		c.Overlap = d.Overlap
	}
	c.Condition, c.ConditionSeed, c.Scoring = "", f.ConditionSeed, f.scoring()
	c.Scoring.Strata = nil // the study splits its own scores, by labels that not all data sets have
	c.Out, c.Workers, c.Shard, c.NoFeatures = "", o.Workers, config.Shard{}, true
	return c, nil
}

// read makes a run read a data set.
func (f *File) read(c *config.Config, s *DataSet, o *Options) {
	c.Inputs = []config.Input{f.input(s, o.Data)}
	c.Reference, c.People, c.Recordings = s.Reference, f.named(s.People), f.path(s.Recordings)
}

// fitOn returns the fit of a run's method on a data set.
func (f *File) fitOn(name string, run config.Config, o *Options) (*fit, error) {
	f.read(&run, f.dataSet(name), o)
	r, err := setup.New(run, "fit", setup.Needs{Method: true, Fit: true})
	if err != nil {
		return nil, err
	}
	defer r.Close()
	r.Plan.Config.Folds = 0 // has no meaning here
	x := &fit{digest: digestOfFit(&r.Plan), run: run}
	x.model = filepath.Join(modelsFolder, folderName(r.Plan.DataSets[0].Name, r.Method.Name, x.digest)+".json")
	return x, nil
}

// dataPlan returns the plan of a run whose model is not there yet.
func dataPlan(c config.Config, m *config.Method) (*rundir.Plan, error) {
	r, err := setup.New(c, "run", setup.Needs{})
	if err != nil {
		return nil, err
	}
	defer r.Close()
	p := r.Plan
	p.Config.Method, p.Config.Model, p.Options, p.MethodDigest = m.Name, "", m.Options, m.Digest
	return &p, nil
}

// digestOfFit identifies what decides the models of a plan. The options of the method
// are not among it, nor is what is scored.
func digestOfFit(p *rundir.Plan) string {
	type data struct {
		Name, Layout, List string
		Changed            dataset.Changes
	}
	var sets []data
	for _, s := range p.DataSets {
		sets = append(sets, data{s.Name, s.LayoutDigest, s.ListDigest, s.Condition})
	}
	c := &p.Config
	return digest(p.Tool, c.Method, p.MethodDigest, p.FitOptions, sets, p.Selection, cmp.Or(p.FitReference, p.Reference),
		c.Folds, c.FoldSeed, c.MostPeople, c.Channel, c.MinDuration, c.MaxDuration, c.UnreadTables)
}

// digest identifies some values.
func digest(values ...any) string {
	content, err := json.Marshal(values)
	if err != nil {
		panic(err) // plans are written as JSON
	}
	return rundir.Digest(content)
}

// identify sets the digest and the folder of the cell.
func (c *cell) identify(p prepared, seed uint64) error {
	plan := p.plan
	changed, err := degrade.Parse(c.Condition)
	if err != nil {
		return err
	}
	if !changed.Empty() {
		if err := changed.Open(); err != nil {
			return err
		}
		plan.Condition = &dataset.Change{Condition: changed.String(), Seed: seed}
	}
	plan.Config.Inputs = slices.Clone(plan.Config.Inputs)
	for i := range plan.Config.Inputs {
		in := &plan.Config.Inputs[i]
		in.Layout = filepath.Base(in.Layout) // the plan has a digest of its text
	}
	plan.Config.Model, plan.Digest = filepath.Base(plan.Config.Model), ""
	of := ""
	if c.fit != nil {
		of = c.fit.digest
	}
	c.Digest = digest(plan, of)
	design := "run"
	if c.crossval {
		design = rundir.StageCrossval
	}
	c.Folder = filepath.Join(cellsFolder, folderName(plan.DataSets[0].Name, plan.Reference, design, plan.Config.Method, conditionName(c.Condition), c.Digest))
	return nil
}

// unfit are characters that do not belong into the name of a folder.
var unfit = regexp.MustCompile(`[^A-Za-z0-9=.,-]+`)

// folderName joins parts to the name of a folder or a file. The last, a digest, is cut;
// the others are there for the reader.
func folderName(parts ...string) string {
	last := len(parts) - 1
	parts = append(slices.Clone(parts[:last]), fmt.Sprintf("%.12s", parts[last]))
	parts = slices.DeleteFunc(parts, func(p string) bool { return p == "" })
	for i, p := range parts {
		const most = 40
		p = unfit.ReplaceAllString(p, "-")
		parts[i] = p[:min(len(p), most)]
	}
	return strings.Join(parts, "-")
}
