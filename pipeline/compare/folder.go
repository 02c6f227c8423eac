package compare

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
)

// Folder is an output folder with the tables recordings and states.
type Folder struct {
	Name string
	Dir  string
	Plan *rundir.Plan
}

// Open opens several output folders, which hold one reference: the named one, or
// any if the name is empty. A folder for which names has no entry is called by its
// own name.
func Open(folders, names []string, reference string) ([]*Folder, error) {
	if len(names) > len(folders) {
		return nil, fmt.Errorf("%d names for %d folders: give at most one for each", len(names), len(folders))
	}
	var all []*Folder
	for i, dir := range folders {
		absolute, err := filepath.Abs(dir)
		if err != nil {
			return nil, fmt.Errorf("folder %s: %w", dir, err)
		}
		name := filepath.Base(absolute)
		if i < len(names) {
			name = names[i]
		}
		plan, err := rundir.OpenTables(dir)
		if err != nil {
			return nil, err
		}
		if reference != "" && plan.Reference != reference {
			return nil, fmt.Errorf("run %s holds the reference %q: score it against %q with score --states %s --reference %s --data … --layout … --out …, and give the folder that this writes",
				name, plan.Reference, reference, dir, reference)
		}
		if i > 0 && plan.Reference != all[0].Plan.Reference {
			return nil, fmt.Errorf("run %s was made with the reference %q and run %s with %q: score both against one, with score --reference",
				all[0].Name, all[0].Plan.Reference, name, plan.Reference)
		}
		all = append(all, &Folder{name, dir, plan})
	}
	return all, nil
}

// ReadJSON reads a file beside the tables into v, and reports whether it exists.
func (f *Folder) ReadJSON(name string, v any) (bool, error) {
	path := filepath.Join(f.Dir, name)
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal(content, v)
	}
	if err != nil {
		return false, fmt.Errorf("%s: %w; score the folder again", path, err)
	}
	return true, nil
}

// Rules returns the rules by which the folder was scored: those of its summary
// or, without a summary, of its plan.
func (f *Folder) Rules() (eval.Rules, error) {
	var s eval.Summary
	found, err := f.ReadJSON(rundir.SummaryFile, &s)
	if err != nil {
		return eval.Rules{}, err
	}
	if !found {
		return scoring.Rules(&f.Plan.Config.Scoring, f.Plan.DefaultRules())
	}
	rules := s.Rules.Rules()
	if err := rules.Validate(); err != nil {
		return rules, fmt.Errorf("rules of %s: %w; score the folder again", f.Dir, err)
	}
	return rules, nil
}

// cases reads the recordings of the folder in their order: all, or those at the
// given positions, for which it opens only their parts.
func (f *Folder) cases(positions map[int]bool) iter.Seq2[*eval.Case, error] {
	return func(yield func(*eval.Case, error) bool) {
		size := f.Plan.Config.PartSize
		for part := range f.Plan.Parts() {
			if positions != nil && !slices.ContainsFunc(slices.Collect(maps.Keys(positions)), func(p int) bool { return p/size == part }) {
				continue
			}
			cases, err := scoring.Cases(f.Dir, part, "")
			if err != nil {
				yield(nil, err)
				return
			}
			for i := range cases {
				if (positions == nil || positions[part*size+i]) && !yield(&cases[i], nil) {
					return
				}
			}
		}
	}
}
