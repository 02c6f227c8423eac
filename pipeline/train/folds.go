package train

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"phonocycle/eval"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table/atomicfile"
	"phonocycle/pipeline/workers"
)

// noFold leaves nobody out.
const noFold = -1

// checkpointOfFold is the extension of the file from which the fit of a fold goes on.
const checkpointOfFold = ".checkpoint"

// Folds fits the method of a cross-validation once for each fold, to the people
// of all other folds, and returns the models. It writes them into the folder
// models of the output folder, and takes those that an interrupted
// cross-validation has left there, or those of another cross-validation
// (ModelsFrom of the configuration), if they were fitted to the same recordings in
// the same way. A method without parameters has no models.
func Folds(ctx context.Context, run *setup.Run, p workers.Progress) ([][]byte, error) {
	if run.Method.Fit == nil {
		p.Note(fmt.Sprintf("method %s has no parameters to fit: all folds are segmented alike", run.Method.Name))
		return nil, nil
	}
	dir := filepath.Join(run.Config.Out, rundir.ModelsFolder)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("output folder: %w; choose another with --out", err)
	}
	if err := checkModelsFrom(run); err != nil {
		return nil, err
	}
	if from := run.Config.ModelsFrom; from != "" {
		p.Note("the models of the folds are those of " + from)
	}
	inputs := &inputs{run: run}
	models := make([][]byte, run.Config.Folds)
	for i := range models {
		f := fold{run: run, number: i, inputs: inputs, keep: trainingPeople(run, i)}
		content, err := f.model(ctx, p)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.name(), err)
		}
		models[i] = content
	}
	return models, nil
}

// fold is one fold of a cross-validation.
type fold struct {
	run    *setup.Run
	number int             // from 0
	keep   map[string]bool // people of all other folds
	inputs *inputs
}

// path returns where the model of the fold lies in the output folder of a
// cross-validation, without its extension.
func (f *fold) path(out string) string {
	return filepath.Join(out, rundir.ModelsFolder, fmt.Sprintf("fold-%02d", f.number))
}

// name counts folds from 1.
func (f *fold) name() string { return fmt.Sprintf("fold %d of %d", f.number+1, f.run.Config.Folds) }

// model returns the model for the recordings of the fold: that of its file if it is
// there, that of another cross-validation if one is named, or a new one.
func (f *fold) model(ctx context.Context, p workers.Progress) ([]byte, error) {
	path := f.path(f.run.Config.Out)
	content, err := os.ReadFile(path + ".json")
	switch {
	case err == nil:
		return content, f.check(ctx, path+".json", content)
	case !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("model of a fold: %w", err)
	case f.run.Config.ModelsFrom != "":
		content, err = f.modelOf(ctx, f.run.Config.ModelsFrom)
	default:
		content, err = f.fit(ctx, path+checkpointOfFold, p)
	}
	if err != nil {
		return nil, err
	}
	if err := atomicfile.Write(path+".json", content); err != nil {
		return nil, err
	}
	if err := os.Remove(path + checkpointOfFold); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	return content, nil
}

// modelOf returns the model of the fold that another cross-validation has fitted.
func (f *fold) modelOf(ctx context.Context, out string) ([]byte, error) {
	path := f.path(out) + ".json"
	content, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("models of %s: %w; complete it with crossval --resume", out, err)
	}
	return content, f.check(ctx, path, content)
}

// fit fits the model of the fold. An interrupted fit goes on from its checkpoint.
func (f *fold) fit(ctx context.Context, checkpoint string, p workers.Progress) ([]byte, error) {
	var m *segment.Model
	err := f.run.Spent.Fit(func() (err error) {
		m, err = fit(ctx, &examples{run: f.run, keep: f.keep}, checkpoint, prefixed{p, f.name() + ": "})
		return err
	})
	if errors.Is(err, context.Canceled) {
		return nil, fmt.Errorf("interrupted; continue with --resume: %w", err)
	}
	if err != nil {
		return nil, err
	}
	if err := f.checkDisjoint(m); err != nil {
		return nil, err
	}
	return m.Marshal()
}

// check makes sure that a model was fitted to what the fold would be fitted to, in the
// same way.
func (f *fold) check(ctx context.Context, path string, content []byte) error {
	m, same, err := f.inputs.model(ctx, path, content, f.keep)
	switch {
	case err != nil:
		return err
	case !same:
		return fmt.Errorf("%s was fitted to other recordings than those of %s, or they have changed since: "+
			"give another folder with --out, or the same data, folds and reference", path, f.name())
	}
	var options bytes.Buffer // a model file is indented
	if err := json.Compact(&options, m.FitOptions); err != nil && m.FitOptions != nil {
		return fmt.Errorf("%s: options of the fit: %w", path, err)
	}
	if !bytes.Equal(options.Bytes(), f.run.Plan.FitOptions) {
		return fmt.Errorf("%s was fitted with the options %s, and here they are %s", path, &options, f.run.Plan.FitOptions)
	}
	return f.checkDisjoint(m)
}

// checkModelsFrom makes sure that the folder whose models are used holds a
// cross-validation of the same method by the same program.
func checkModelsFrom(run *setup.Run) error {
	from := run.Config.ModelsFrom
	if from == "" {
		return nil
	}
	was, err := rundir.ReadPlan(from)
	switch {
	case err != nil:
		return err
	case was == nil || was.Stage != rundir.StageCrossval:
		return fmt.Errorf("models-from: folder %s was not written by crossval", from)
	case was.Tool != run.Plan.Tool:
		return fmt.Errorf("models-from: the models of %s were fitted by %s, and this is %s: fit them anew", from, was.Tool, run.Plan.Tool)
	case was.Config.Method != run.Plan.Config.Method || was.MethodDigest != run.Plan.MethodDigest:
		return fmt.Errorf("models-from: folder %s holds models of %s, not of this method %s", from, was.Config.Method, run.Plan.Config.Method)
	}
	return nil
}

// checkDisjoint makes sure that a model was not fitted on people of its fold.
func (f *fold) checkDisjoint(m *segment.Model) error {
	var scored []string
	for i := range f.run.Corpus.Entries {
		if e := &f.run.Corpus.Entries[i]; e.InFold(f.number) {
			scored = append(scored, e.PersonKey())
		}
	}
	if err := eval.CheckDisjoint(m.People, scored); err != nil {
		return err
	}
	return f.run.Corpus.CheckNoCopies(m, func(e *corpus.Entry) bool { return e.InFold(f.number) })
}

// trainingPeople returns the people to whom the model of a fold is fitted: all with
// annotated recordings outside the fold, or most-people of them as drawn by seed and
// name.
func trainingPeople(run *setup.Run, fold int) map[string]bool {
	type candidate struct{ person, key string }
	var candidates []candidate
	for _, person := range annotatedPeople(run, fold) {
		sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", run.Config.FoldSeed, person))
		candidates = append(candidates, candidate{person, hex.EncodeToString(sum[:])})
	}
	if n := run.Config.MostPeople; n > 0 && n < len(candidates) {
		slices.SortFunc(candidates, func(a, b candidate) int { return strings.Compare(a.key, b.key) })
		candidates = candidates[:n]
	}
	drawn := map[string]bool{}
	for _, c := range candidates {
		drawn[c.person] = true
	}
	return drawn
}

// annotatedPeople returns the people with annotated recordings outside the fold.
func annotatedPeople(run *setup.Run, fold int) []string {
	var people []string
	seen := map[string]bool{}
	for i := range run.Examples.Entries {
		e := &run.Examples.Entries[i]
		if outside := fold == noFold || !e.InFold(fold); outside && e.Recording.Reference != "" && !seen[e.Person] {
			seen[e.Person] = true
			people = append(people, e.Person)
		}
	}
	return people
}

// prefixed puts a text before the notes for a Progress.
type prefixed struct {
	workers.Progress
	prefix string
}

func (p prefixed) Note(text string) { p.Progress.Note(p.prefix + text) }
