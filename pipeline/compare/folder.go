package compare

import (
	"fmt"
	"iter"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
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
// own name. Where the audio was changed before it was segmented, the name says so.
func Open(folders, names []string, reference string) ([]*Folder, error) {
	all, err := openEach(folders, names, reference, func(dir string, _ *rundir.Plan) string { return filepath.Base(dir) })
	if err != nil {
		return nil, err
	}
	for _, f := range all[min(1, len(all)):] {
		if f.Plan.Reference != all[0].Plan.Reference {
			return nil, fmt.Errorf("run %s was made with the reference %q and run %s with %q: score both against one, with score --reference",
				all[0].Name, all[0].Plan.Reference, f.Name, f.Plan.Reference)
		}
	}
	return all, nil
}

// openEach opens output folders, which may hold several references if none is named.
// byDefault names a folder for which names has no entry, from its absolute path and
// its plan.
func openEach(folders, names []string, reference string, byDefault func(dir string, plan *rundir.Plan) string) ([]*Folder, error) {
	if len(names) > len(folders) {
		return nil, fmt.Errorf("%d names for %d folders: give at most one for each", len(names), len(folders))
	}
	var all []*Folder
	for i, dir := range folders {
		absolute, err := filepath.Abs(dir)
		if err != nil {
			return nil, fmt.Errorf("folder %s: %w", dir, err)
		}
		plan, err := rundir.OpenTables(dir)
		if err != nil {
			return nil, err
		}
		name := byDefault(absolute, plan)
		if i < len(names) {
			name = names[i]
		}
		if reference != "" && plan.Reference != reference {
			return nil, fmt.Errorf("run %s holds the reference %q: score it against %q with score --states %s --reference %s --data … --layout … --out …, and give the folder that this writes",
				name, plan.Reference, reference, dir, reference)
		}
		all = append(all, &Folder{withCondition(name, plan.Provenance().Condition), dir, plan})
	}
	return all, nil
}

// withCondition adds to the name of a run how its audio was changed, so that it is
// not taken for one of the audio of the data set.
func withCondition(name, condition string) string {
	if condition == "" {
		return name
	}
	return fmt.Sprintf("%s (%s)", name, condition)
}

// run returns what tables state of the run beside its scores.
func (f *Folder) run() (eval.Run, error) {
	r := eval.Run{Name: f.Name, Provenance: f.Plan.Provenance()}
	r.DataSet, r.Version = f.dataSet()
	cost, known, err := rundir.ReadCost(f.Dir)
	if err != nil {
		return r, err
	}
	if known && cost.Audio > 0 {
		r.Cost = cost.Segmenting / cost.Audio
	}
	return r, nil
}

// dataSet returns the names and the versions of the data sets.
func (f *Folder) dataSet() (name, version string) {
	var names, versions []string
	for _, s := range f.Plan.DataSets {
		names, versions = append(names, s.Name), append(versions, s.Version)
	}
	return strings.Join(names, " + "), strings.Join(versions, " + ")
}

// overlap says what happens to people of the training data: they are left out unless
// the run was asked to score them.
func (f *Folder) overlap() config.Overlap {
	if f.Plan.Config.Overlap == config.ScoreOverlap {
		return config.ScoreOverlap
	}
	return config.LeaveOutOverlap
}

// ReadJSON reads a file beside the tables into v, and reports whether it exists.
func (f *Folder) ReadJSON(name string, v any) (bool, error) {
	found, err := rundir.ReadJSON(filepath.Join(f.Dir, name), v)
	if err != nil {
		err = fmt.Errorf("%w; score the folder again", err)
	}
	return found, err
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
