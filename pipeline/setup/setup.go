// Package setup prepares a run: it loads the method with its options and its
// model, lists the recordings, assigns people to folds, refuses to score people
// of the training data, and states all of it in a plan. It writes nothing and
// reads no audio.
package setup

import (
	"errors"
	"fmt"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/table"
)

// Needs says what a stage needs of its setup.
type Needs struct {
	Method bool // a method that segments
	Fit    bool // the method is fitted, in a whole or by folds
	Folds  bool // everybody must have a fold
	Scores bool // states are scored, and so not those of people of the method's training data
}

// Run is a run that is ready to begin.
type Run struct {
	Config   config.Config
	Plan     rundir.Plan // not sealed yet
	Corpus   *corpus.Corpus
	Examples *corpus.Corpus // the same recordings with the reference that the method is fitted to
	Labels   []table.Column
	Method   *config.Method // nil where none is needed
	Origin   string         // whose states are measured: table.Predicted or table.Reference
	Written  []string       // files and folders written before the first recording
	Warnings []string
	Spent    Spent

	needs     Needs
	tuning    corpus.GCTuning
	condition degrade.Condition // opened
	overlap   *corpus.Overlap   // with the training data of the method; nil where none are known

	foldModels  [][]byte // of a cross-validation
	foldDigests []string
}

// New prepares a run of the given stage. Close releases what it opened.
func New(c config.Config, stage string, needs Needs) (*Run, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	r := &Run{
		Config: c, Plan: rundir.Plan{Tool: rundir.Tool, Stage: stage, Config: c}, Corpus: &corpus.Corpus{},
		Origin: table.Predicted, needs: needs, tuning: corpus.TuneForListing(),
	}
	if err := r.prepare(); err != nil {
		r.Close()
		return nil, err
	}
	r.tuning.ForList(len(r.Corpus.Entries))
	return r, nil
}

// Close releases the folders and the list of recordings.
func (r *Run) Close() {
	r.Corpus.Close()
	if r.Examples != nil {
		r.Examples.Close()
	}
	r.tuning.End()
}

func (r *Run) prepare() (err error) {
	if err := r.openCondition(); err != nil {
		return err
	}
	if err := r.loadMethod(); err != nil {
		return err
	}
	opened, err := r.openCorpus(r.Config.Reference)
	if err != nil {
		return err
	}
	r.Corpus, r.Plan.DataSets, r.Plan.Selection, r.Plan.Reference, r.Warnings = opened, opened.DataSets, opened.Selection, opened.Reference, opened.Warnings
	if r.Config.Scoring.Tolerance == 0 {
		r.Config.Scoring.Tolerance = config.Duration(r.Plan.DefaultRules().Headline)
		r.Plan.Config.Scoring.Tolerance = r.Config.Scoring.Tolerance
	}
	if err := r.openExamples(); err != nil {
		return err
	}
	if r.needs.Fit || r.needs.Scores {
		if err := r.Plan.CheckTables(r.Config.UnreadTables); err != nil {
			return err
		}
	}
	for _, list := range []*corpus.Corpus{opened, r.Examples} {
		if err := list.AssignFolds(r.Config.Folds, r.Config.FoldSeed, r.needs.Folds); err != nil {
			return err
		}
	}
	if err := r.checkOverlap(); err != nil {
		return err
	}
	if err := opened.AddLabels(r.Config.Labels); err != nil {
		return err
	}
	r.Labels = opened.LabelColumns()
	for _, l := range r.Labels {
		r.Plan.Labels = append(r.Plan.Labels, l.Name)
		if opened.IsRecordingLabel(l.Name) {
			r.Plan.RecordingLabels = append(r.Plan.RecordingLabels, l.Name)
		}
	}
	if err := eval.Grouping(r.Config.Scoring.Strata).Check(r.Plan.Labels); err != nil {
		return fmt.Errorf("strata: %w", err)
	}
	return nil
}

// openCondition makes the condition ready and notes it in the plan. It changes the audio
// that is segmented and measured. Fits see the data as they are, so that a model that was
// fitted once can be scored under any condition.
func (r *Run) openCondition() error {
	c, err := degrade.Parse(r.Config.Condition)
	switch {
	case err != nil || c.Empty():
		return err
	case r.needs.Fit && !r.needs.Scores:
		return errors.New("a fit sees the data as they are: to fit under a condition, copy the data with degrade and fit to the copy")
	}
	if err := c.Open(); err != nil {
		return err
	}
	r.condition, r.Plan.Condition = c, &dataset.Change{Condition: c.String(), Seed: r.Config.ConditionSeed}
	return nil
}

// NewLoader returns a loader of recordings that are segmented or measured, for one worker.
func (r *Run) NewLoader() *corpus.Loader {
	l := corpus.NewLoader(&r.Config)
	if !r.condition.Empty() {
		l.Degrader = degrade.NewDegrader(r.condition, r.Config.ConditionSeed)
	}
	return l
}

// openExamples lists the recordings as a method is fitted to them. Where the reference
// marks points only, a cross-validation fits to the first reference of the layout that
// has durations, and scores against the one that it was given.
func (r *Run) openExamples() (err error) {
	r.Examples = r.Corpus
	if !r.needs.Fit || r.Method.Fit == nil || r.Plan.Reference == "" || r.hasDurations() {
		return nil
	}
	name := r.Corpus.ReferenceWithDurations()
	switch {
	case name == "":
		return fmt.Errorf("the reference %s marks points, which do not say how long a state lasts, and the layout has no other to fit to", r.Plan.Reference)
	case !r.needs.Scores:
		return fmt.Errorf("the reference %s marks points, which do not say how long a state lasts: fit to --reference %s", r.Plan.Reference, name)
	}
	r.Plan.FitReference = name
	r.Warnings = append(r.Warnings, fmt.Sprintf("models are fitted to the reference %s, and scores are against %s", name, r.Plan.Reference))
	r.Examples, err = r.openCorpus(name)
	return err
}

// openCorpus lists the recordings with a reference, empty for the first.
func (r *Run) openCorpus(reference string) (*corpus.Corpus, error) {
	return corpus.Open(r.Config.Inputs, corpus.Options{Reference: reference, People: r.Config.People, Recordings: r.Config.Recordings})
}

// hasDurations reports whether the reference of a data set says how long states last.
func (r *Run) hasDurations() bool {
	return slices.ContainsFunc(r.Plan.DataSets, func(s rundir.DataSet) bool { return dataset.TraitsOf(s.ReferenceKind).Durations })
}

// loadMethod loads the method and notes in the plan what it is.
func (r *Run) loadMethod() (err error) {
	p := &r.Plan
	switch {
	case !r.needs.Method:
		p.Config.Method, p.Config.Model = "", ""
		return nil
	case r.needs.Fit:
		r.Method, err = r.Config.LoadFit()
	default:
		r.Method, err = r.Config.LoadMethod()
	}
	if err != nil {
		return err
	}
	p.MethodCitation = r.Method.Cite()
	p.Options, p.FitOptions, p.MethodDigest, p.Points = r.Method.Options, r.Method.FitOptions, r.Method.Digest, r.Method.Points
	p.MethodTitle, p.Origin = r.Method.Title, r.origin()
	r.Config.Method = r.Method.Name // where it is a file, its path is that of this machine
	p.Config.Method = r.Method.Name
	if m := r.Method.Training; m != nil {
		p.TrainedOn = eval.TrainedOn{DataSet: m.DataSet, People: len(m.People), Recordings: m.Recordings, Digest: m.Inputs, Condition: m.Condition}
		p.FitOptions = m.FitOptions
	}
	if p.Condition != nil && r.Method.File {
		return fmt.Errorf("method %s reads the audio files itself, which --condition does not change: make a copy with degrade, and run the method on it", r.Method.Name)
	}
	if r.Method.Points && r.needs.Scores {
		r.Warnings = append(r.Warnings, fmt.Sprintf("method %s marks points, which have no durations: no features are measured, and the tables cycles and people are not written", r.Method.Name))
	}
	if r.Method.Model == nil {
		p.Config.Model = ""
	} else {
		p.ModelDigest = rundir.Digest(r.Method.Model)
	}
	return nil
}

// origin says how the states of the method come about, as the plan states it.
func (r *Run) origin() eval.Origin {
	switch {
	case r.Method.Fit == nil:
		return eval.NotFitted
	case r.needs.Folds:
		return eval.CrossValidated
	case r.needs.Fit: // segments nothing
		return ""
	}
	return eval.FittedElsewhere
}

// checkOverlap counts the people of the training data of the method, or refuses
// them.
func (r *Run) checkOverlap() error {
	if r.Method == nil || r.Method.Training == nil {
		return nil
	}
	return r.UseTraining(r.Method.Training, "the model "+r.Config.Model)
}

// UseTraining makes the people and the audio of a model the training data of the
// run: it counts or refuses the people among those of the corpus. what names the
// model in errors.
func (r *Run) UseTraining(model *segment.Model, what string) error {
	r.overlap = r.Corpus.NewOverlap(model)
	if r.needs.Scores {
		if err := r.overlap.Check(what, r.Config.Overlap); err != nil {
			return err
		}
	}
	r.Plan.TrainingOverlap = len(r.overlap.People(func(*corpus.Entry) bool { return true }))
	return nil
}

// InTrainingData says whether the method was fitted on recordings of the person
// of an entry; nil where it has no fitted parameters. In a cross-validation the
// model of the person's fold was not, by construction.
func (r *Run) InTrainingData(e *corpus.Entry) *bool {
	var is bool
	switch {
	case r.Method != nil && r.needs.Fit && r.Method.Fit != nil:
	case r.overlap != nil:
		is = r.overlap.Knows(e)
	default:
		return nil
	}
	return &is
}

// Describe returns the row of a recording as far as it is known before its audio
// is read.
func (r *Run) Describe(e *corpus.Entry) table.Recording {
	row := e.Row()
	row.PersonInTrainingData, row.SegmentationSource, row.SegmentationKind = r.InTrainingData(e), r.Origin, table.Intervals
	if r.Plan.Points {
		row.SegmentationKind = table.Points
	}
	if r.Method != nil {
		row.Method, row.ModelDigest = r.Method.Name, r.Plan.ModelDigest
		if r.foldDigests != nil {
			row.ModelDigest = r.foldDigests[*e.Fold()]
		}
	}
	return row
}

// RequireFit returns an error where the method has no parameters to fit.
func (r *Run) RequireFit() error {
	if r.Method.Fit == nil {
		return fmt.Errorf("method %s has no parameters to fit: choose another with --method", r.Method.Name)
	}
	return nil
}
