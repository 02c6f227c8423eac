package study

import (
	"cmp"
	"fmt"
	"path"
	"slices"

	"phonocycle/pipeline/config"
)

// only keeps the cells that match all patterns, as of package path: of the method, the
// design or the condition, or of all three with slashes between.
func only(cells []*cell, patterns []string) ([]*cell, error) {
	for _, pattern := range patterns {
		if _, err := path.Match(pattern, ""); err != nil {
			return nil, fmt.Errorf("only %q: %w: * stands for any characters, ? for one, [ab] for one of these", pattern, err)
		}
		cells = slices.DeleteFunc(slices.Clone(cells), func(c *cell) bool {
			return !slices.ContainsFunc([]string{c.Method, c.Design, conditionName(c.Condition), c.ID}, func(name string) bool {
				matches, _ := path.Match(pattern, name)
				return matches
			})
		})
		if len(cells) == 0 {
			return nil, fmt.Errorf("only %q: no cell has a method, a design or a condition of this name (--list shows all)", pattern)
		}
	}
	return cells, nil
}

// What a fit counts beside a cell when cells are shared out.
const fitWeight = 2

// of keeps the cells of one shard. Cells that need the same models stay together, so
// that no two machines fit them. The heaviest groups are dealt first, each to the shard
// that has least; the same cells give the same shares everywhere.
func shardOf(cells []*cell, shard config.Shard) []*cell {
	if shard.Of == 0 {
		return cells
	}
	type group struct {
		key    string
		weight int
	}
	var groups []group
	at := map[string]int{}
	for _, c := range cells {
		key := c.group()
		i, there := at[key]
		if !there {
			i = len(groups)
			at[key], groups = i, append(groups, group{key: key})
			if c.fit != nil {
				groups[i].weight = fitWeight * max(1, c.fit.folds)
			}
		}
		groups[i].weight++
	}
	slices.SortStableFunc(groups, func(a, b group) int { return cmp.Compare(b.weight, a.weight) })
	loads, mine := make([]int, shard.Of), map[string]bool{}
	for _, g := range groups {
		least := slices.Index(loads, slices.Min(loads))
		loads[least] += g.weight
		mine[g.key] = least == shard.Index-1
	}
	return slices.DeleteFunc(slices.Clone(cells), func(c *cell) bool { return !mine[c.group()] })
}

// group names the cells that are made on one machine.
func (c *cell) group() string {
	switch {
	case c.fit != nil:
		return c.fit.digest
	case c.Digest != "":
		return c.Digest
	}
	return c.ID
}
