package pipeline

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// results is an output folder with the tables recordings and states, read to be
// compared with others.
type results struct {
	name string
	dir  string
	plan *Plan
}

// openResults opens an output folder and makes sure that none of its parts is
// missing.
func openResults(name, dir string) (*results, error) {
	plan, err := readPlan(dir)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: name a folder that run, segment, crossval or score --predictions wrote", dir, planFile)
	}
	for _, parts := range []table.Parts{table.PartsOf[table.Recording](dir), table.PartsOf[table.State](dir)} {
		missing, err := parts.FirstMissing(plan.parts())
		if err != nil {
			return nil, err
		}
		if missing < plan.parts() {
			return nil, fmt.Errorf("%s is not there: complete the run with --resume", parts.Path(missing))
		}
	}
	return &results{name, dir, plan}, nil
}

// openAll opens several output folders. Where names has none for a folder, it
// goes by the name of the folder.
func openAll(folders, names []string) ([]*results, error) {
	if len(names) > len(folders) {
		return nil, fmt.Errorf("%d names for %d folders: give at most one for each", len(names), len(folders))
	}
	var all []*results
	for i, dir := range folders {
		absolute, err := filepath.Abs(dir)
		if err != nil {
			return nil, fmt.Errorf("folder %s: %w", dir, err)
		}
		name := filepath.Base(absolute)
		if i < len(names) {
			name = names[i]
		}
		r, err := openResults(name, dir)
		if err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	return all, nil
}

// rules returns the rules by which the folder was scored: those of its summary,
// or where it has none, of its plan.
func (r *results) rules() (eval.Rules, error) {
	path := filepath.Join(r.dir, summaryFile)
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return rulesOf(&r.plan.Config)
	}
	if err != nil {
		return eval.Rules{}, fmt.Errorf("rules of %s: %w", r.dir, err)
	}
	var s eval.Summary
	if err := json.Unmarshal(content, &s); err != nil {
		return eval.Rules{}, fmt.Errorf("rules in %s: %w; score the folder again", path, err)
	}
	rules := s.Rules.Rules()
	if err := rules.Validate(); err != nil {
		return rules, fmt.Errorf("%s: %w; score the folder again", path, err)
	}
	return rules, nil
}

// cases reads the recordings of the folder in their order.
func (r *results) cases() iter.Seq2[*eval.Case, error] {
	return func(yield func(*eval.Case, error) bool) {
		s := scoring{from: r.dir, known: keepKnown}
		for part := range r.plan.parts() {
			cases, err := s.cases(part)
			if err != nil {
				yield(nil, err)
				return
			}
			for i := range cases {
				if !yield(&cases[i], nil) {
					return
				}
			}
		}
	}
}

// referenceSum identifies what a reference says of a recording.
func referenceSum(c *eval.Case) uint64 {
	h := fnv.New64a()
	var word [8]byte
	add := func(v uint64) {
		binary.LittleEndian.PutUint64(word[:], v)
		h.Write(word[:])
	}
	at := func(t time.Duration) { add(uint64(t)) }
	at(c.Length)
	for _, iv := range c.Reference.Intervals {
		at(iv.Start)
		at(iv.End)
		add(uint64(iv.State))
	}
	for _, p := range c.Reference.Points {
		at(p.At)
		add(uint64(p.Sound))
	}
	return h.Sum64()
}
