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

	"phonocycle/eval"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

// stageCrossval is the name of the stage of Crossval in a plan.
const stageCrossval = "crossval"

// modelsFolder holds the models of the folds below the output folder of a
// cross-validation.
const modelsFolder = "models"

// Crossval cross-validates a method by person: people are split into folds, the
// method is fitted to all folds but one, and the recordings of that one are
// segmented with the parameters found, for each fold in turn. It writes the
// tables of Run, in which every recording was segmented by a model that has
// never seen its person, and the model of each fold. A method without
// parameters to fit is scored as it is.
func Crossval(ctx context.Context, c Config, p Progress) (*Report, error) {
	if c.Shard.Of > 0 {
		return nil, errors.New("a cross-validation cannot be shared by several machines: leave --shard out")
	}
	if c.Folds < 2 {
		return nil, fmt.Errorf("folds is %d: a cross-validation needs at least 2", c.Folds)
	}
	return execute(ctx, c, stage{name: stageCrossval, segments: true, extracts: true, scores: true, crossValidates: true}, p)
}

// fitFolds fits the method once for each fold, to the people of all others, or
// takes the models that an interrupted cross-validation has left.
func (j *job) fitFolds(ctx context.Context, p Progress) error {
	if j.method.Fit == nil {
		p.Note(fmt.Sprintf("method %s has no parameters to fit: all folds are segmented alike", j.method.Name))
		return nil
	}
	dir := filepath.Join(j.config.Out, modelsFolder)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("output folder: %w; choose another with --out", err)
	}
	models, digests := make([][]byte, j.config.Folds), make([]string, j.config.Folds)
	for fold := range models {
		content, err := j.foldModel(ctx, fold, filepath.Join(dir, fmt.Sprintf("fold-%02d", fold)), p)
		if err != nil {
			return fmt.Errorf("fold %d of %d: %w", fold, j.config.Folds, err)
		}
		models[fold], digests[fold] = content, digestOf(content)
	}
	j.foldModels, j.foldDigests = models, digests
	return nil
}

// foldModel returns the model for the recordings of a fold, from its file if it
// is there and was fitted to the same inputs.
func (j *job) foldModel(ctx context.Context, fold int, path string, p Progress) ([]byte, error) {
	among := j.learners(func(e *entry) bool { return int(e.fold) != fold })
	x := &examples{job: j, keep: func(e *entry) bool { return among[e.person] }}
	content, err := os.ReadFile(path + ".json")
	switch {
	case err == nil:
		return content, j.checkFoldModel(ctx, x, fold, path+".json", content)
	case !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("model of a fold: %w", err)
	}
	checkpoint := path + ".checkpoint"
	m, err := j.fit(ctx, x, checkpoint, prefixed{p, fmt.Sprintf("fold %d of %d: ", fold, j.config.Folds)})
	if err != nil {
		if errors.Is(err, context.Canceled) {
			return nil, fmt.Errorf("interrupted; continue with --resume: %w", err)
		}
		return nil, err
	}
	if err := j.checkDisjoint(m, fold); err != nil {
		return nil, err
	}
	if content, err = m.Marshal(); err != nil {
		return nil, err
	}
	if err := table.WriteFileAtomic(path+".json", content); err != nil {
		return nil, err
	}
	if err := os.Remove(checkpoint); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	return content, nil
}

// checkFoldModel makes sure that a model found on resuming is of this fold and
// that what it was fitted to is unchanged.
func (j *job) checkFoldModel(ctx context.Context, x *examples, fold int, path string, content []byte) error {
	m, err := segment.ParseModel(content, j.method.Name)
	if err != nil {
		return fmt.Errorf("%s: %w; remove it to fit it anew", path, err)
	}
	for _, err := range x.all(ctx) {
		if err != nil {
			return err
		}
	}
	if m.Inputs != x.inputDigest() {
		return fmt.Errorf("%s was fitted to recordings that have changed since; give another folder with --out", path)
	}
	return j.checkDisjoint(m, fold)
}

// checkDisjoint makes sure that a model has seen nobody of its fold.
func (j *job) checkDisjoint(m *segment.Model, fold int) error {
	var scored []string
	for i := range j.entries {
		if e := &j.entries[i]; int(e.fold) == fold {
			scored = append(scored, e.personKey())
		}
	}
	return eval.CheckDisjoint(m.People, scored)
}

// learners returns the people with annotated recordings among the given
// entries: all, or most-people of them as drawn by seed and name.
func (j *job) learners(among func(*entry) bool) map[string]bool {
	type card struct{ person, draw string }
	var cards []card
	seen := map[string]bool{}
	for i := range j.entries {
		e := &j.entries[i]
		if !among(e) || e.recording.Reference == "" || seen[e.person] {
			continue
		}
		seen[e.person] = true
		sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", j.config.FoldSeed, e.person))
		cards = append(cards, card{e.person, hex.EncodeToString(sum[:])})
	}
	if n := j.config.MostPeople; n == 0 || n >= len(cards) {
		return seen
	}
	slices.SortFunc(cards, func(a, b card) int { return strings.Compare(a.draw, b.draw) })
	drawn := map[string]bool{}
	for _, c := range cards[:j.config.MostPeople] {
		drawn[c.person] = true
	}
	return drawn
}

// prefixed tells a Progress notes that begin with a text.
type prefixed struct {
	Progress
	prefix string
}

func (p prefixed) Note(text string) { p.Progress.Note(p.prefix + text) }
