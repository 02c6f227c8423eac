package train

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

// Folds fits the method of a cross-validation once for each fold, to the people
// of all other folds, and returns the models. It writes them into the folder
// models of the output folder, and takes those that an interrupted
// cross-validation has left there. A method without parameters has no models.
func Folds(ctx context.Context, run *setup.Run, p workers.Progress) ([][]byte, error) {
	if run.Method.Fit == nil {
		p.Note(fmt.Sprintf("method %s has no parameters to fit: all folds are segmented alike", run.Method.Name))
		return nil, nil
	}
	dir := filepath.Join(run.Config.Out, rundir.ModelsFolder)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("output folder: %w; choose another with --out", err)
	}
	models := make([][]byte, run.Config.Folds)
	for i := range models {
		f := fold{run: run, number: i, path: filepath.Join(dir, fmt.Sprintf("fold-%02d", i)), x: &examples{run: run, keep: trainingPeople(run, i)}}
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
	number int       // from 0
	path   string    // of its model, without extension
	x      *examples // of the people of all other folds
}

// name counts folds from 1.
func (f *fold) name() string { return fmt.Sprintf("fold %d of %d", f.number+1, f.run.Config.Folds) }

// model returns the model for the recordings of the fold, from its file if it is
// there and was fitted to the same inputs.
func (f *fold) model(ctx context.Context, p workers.Progress) ([]byte, error) {
	content, err := os.ReadFile(f.path + ".json")
	switch {
	case err == nil:
		return content, f.check(ctx, content)
	case !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("model of a fold: %w", err)
	}
	checkpoint := f.path + ".checkpoint"
	var m *segment.Model
	err = f.run.Spent.Fit(func() error {
		m, err = fit(ctx, f.x, checkpoint, prefixed{p, f.name() + ": "})
		return err
	})
	if err != nil {
		if errors.Is(err, context.Canceled) {
			return nil, fmt.Errorf("interrupted; continue with --resume: %w", err)
		}
		return nil, err
	}
	if err := f.checkDisjoint(m); err != nil {
		return nil, err
	}
	if content, err = m.Marshal(); err != nil {
		return nil, err
	}
	if err := atomicfile.Write(f.path+".json", content); err != nil {
		return nil, err
	}
	if err := os.Remove(checkpoint); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	return content, nil
}

// check makes sure that a model found on resuming is of this fold, and that its
// training data are unchanged.
func (f *fold) check(ctx context.Context, content []byte) error {
	path := f.path + ".json"
	m, err := segment.ParseModel(content, f.run.Method.Name)
	if err != nil {
		return fmt.Errorf("%s: %w; remove it to fit it anew", path, err)
	}
	for _, err := range f.x.all(ctx) {
		if err != nil {
			return err
		}
	}
	if m.Inputs != f.x.inputDigest() {
		return fmt.Errorf("%s was fitted to recordings that have changed since; give another folder with --out", path)
	}
	return f.checkDisjoint(m)
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

// trainingPeople returns the people with annotated recordings outside the given
// fold: all of them, or most-people of them as drawn by seed and name.
func trainingPeople(run *setup.Run, fold int) map[string]bool {
	type candidate struct{ person, key string }
	var candidates []candidate
	seen := map[string]bool{}
	for i := range run.Examples.Entries {
		e := &run.Examples.Entries[i]
		if (fold != noFold && e.InFold(fold)) || e.Recording.Reference == "" || seen[e.Person] {
			continue
		}
		seen[e.Person] = true
		sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", run.Config.FoldSeed, e.Person))
		candidates = append(candidates, candidate{e.Person, hex.EncodeToString(sum[:])})
	}
	n := run.Config.MostPeople
	if n == 0 || n >= len(candidates) {
		return seen
	}
	slices.SortFunc(candidates, func(a, b candidate) int { return strings.Compare(a.key, b.key) })
	drawn := map[string]bool{}
	for _, c := range candidates[:n] {
		drawn[c.person] = true
	}
	return drawn
}

// prefixed puts a text before the notes for a Progress.
type prefixed struct {
	workers.Progress
	prefix string
}

func (p prefixed) Note(text string) { p.Progress.Note(p.prefix + text) }
