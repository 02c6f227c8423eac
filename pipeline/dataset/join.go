package dataset

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/pcg"
)

// tableID names one table: a path may expand differently for each recording.
type tableID struct {
	rule int
	path string
}

// joiner gives recordings what the tables of a layout say of them.
type joiner struct {
	folder     *folder
	listing    *listing
	layout     *Layout
	compiled   *compiledLayout
	recordings []pcg.Recording

	tables   map[tableID]*table
	provided map[string]bool // labels that the data set has
	united   people
	defects  []Defect
}

func newJoiner(f *folder, list *listing, l *Layout, c *compiledLayout, recordings []pcg.Recording) *joiner {
	j := &joiner{folder: f, listing: list, layout: l, compiled: c, recordings: recordings,
		tables: map[tableID]*table{}, provided: map[string]bool{}, united: people{}}
	for _, group := range l.Recording.Labels {
		j.provided[group] = true
	}
	return j
}

// join reads the tables and sets person, site, take and labels.
func (j *joiner) join() {
	rows := make([][]*tableRow, len(j.compiled.tables)) // of each rule, by recording
	for n := range j.compiled.tables {
		rule := &j.compiled.tables[n]
		rows[n] = make([]*tableRow, len(j.recordings))
		found := false
		for i := range j.recordings {
			rec := &j.recordings[i]
			if rule.Only != "" && !matchPattern(rule.Only, rec.Audio) {
				continue
			}
			if t := j.tableOf(n, rec); t != nil {
				found = true
				rows[n][i] = j.joinRow(rule, t, rec)
			}
		}
		for _, l := range rule.Labels {
			if found || !rule.Optional {
				j.provided[l.Name] = j.provided[l.Name] || !l.Optional
			}
		}
		j.checkTables(n)
	}
	j.setLabels(rows)
	for i := range j.recordings {
		if p := j.recordings[i].Person; p != "" {
			j.recordings[i].Person = j.united.name(p)
		}
	}
}

// tableOf returns the table of rule n for a recording, or nil.
func (j *joiner) tableOf(n int, rec *pcg.Recording) *table {
	rule := &j.compiled.tables[n]
	file, ok := expandPath(rule.Path, j.compiled.paths.of(rec))
	if !ok {
		return nil
	}
	id := tableID{n, file}
	if t, ok := j.tables[id]; ok {
		return t
	}
	var t *table
	if _, exists := j.listing.find(file); exists {
		var defects []Defect
		t, defects = readTable(j.folder, rule, file)
		j.defects = append(j.defects, defects...)
	} else if !rule.Optional {
		j.defects = append(j.defects, tableMissing.at(file, 0))
	}
	j.tables[id] = t
	return t
}

// isTable reports whether a file was read as a table.
func (j *joiner) isTable(file string) bool {
	for n := range j.compiled.tables {
		if j.tables[tableID{n, file}] != nil {
			return true
		}
	}
	return false
}

// joinRow returns the row of a recording, or nil, and takes over its names.
func (j *joiner) joinRow(rule *compiledTable, t *table, rec *pcg.Recording) *tableRow {
	key, ok := expand(rule.Match, j.compiled.paths.of(rec))
	at, found := t.byKey[key]
	if !ok || !found {
		j.defects = append(j.defects, rowMissing.at(t.path, 0, rec.ID, key).of(rec.ID))
		return nil
	}
	row := &t.rows[at]
	row.used = true
	if row.names == nil {
		return row
	}
	if row.names.person != "" {
		rec.Person = row.names.person
	}
	if row.names.site != "" {
		rec.Site = row.names.site
	}
	if n, err := strconv.Atoi(row.names.take); err == nil && n > 0 {
		rec.Take = n
	}
	return row
}

// checkTables looks at the tables of rule n as a whole.
func (j *joiner) checkTables(n int) {
	var tables []*table
	for id, t := range j.tables {
		if id.rule == n && t != nil {
			tables = append(tables, t)
		}
	}
	slices.SortFunc(tables, func(a, b *table) int { return strings.Compare(a.path, b.path) })
	for _, t := range tables {
		for name := range t.provided {
			j.provided[name] = true
		}
		for i := range t.rows {
			if r := &t.rows[i]; !r.used {
				j.defects = append(j.defects, rowUnused.at(t.path, int(r.line), r.key))
			}
		}
		if j.compiled.tables[n].SamePerson != "" {
			j.unitePeople(t)
		}
	}
}

// unitePeople unites the names that the rows of a table give one person, and
// reports each person once, at the first row.
func (j *joiner) unitePeople(t *table) {
	for i := range t.rows {
		r := &t.rows[i]
		other := r.other()
		if other == "" || other == r.key {
			continue
		}
		j.united.unite(r.key, other)
		if back, ok := t.byKey[other]; !ok || t.rows[back].other() != r.key {
			j.defects = append(j.defects, personOneSided.at(t.path, int(r.line), r.key, other))
		}
	}
	ids, first := map[string][]string{}, map[string]int{}
	var names []string // in the order of the rows
	for i := range t.rows {
		r := &t.rows[i]
		name := j.united.name(r.key)
		if _, ok := first[name]; !ok {
			first[name] = int(r.line)
			names = append(names, name)
		}
		ids[name] = append(ids[name], fmt.Sprintf("%s (line %d)", r.key, r.line))
	}
	for _, name := range names {
		if len(ids[name]) > 1 {
			j.defects = append(j.defects, personTwice.at(t.path, first[name], strings.Join(ids[name], " and ")).withAction(name))
		}
	}
}

// setLabels gives the recordings the labels that some table or path provides, in
// the order of the layout. If several sources give a value, the first one that
// is not empty counts.
func (j *joiner) setLabels(rows [][]*tableRow) {
	var names []string
	at := map[string]int{}
	for _, s := range j.layout.labels() {
		if _, ok := at[s.name]; !ok && j.provided[s.name] {
			at[s.name] = len(names)
			names = append(names, s.name)
		}
	}
	values := make([]string, len(names))
	set := func(name, value string) {
		if k, ok := at[name]; ok && values[k] == "" {
			values[k] = value
		}
	}
	for i := range j.recordings {
		clear(values)
		fields := j.compiled.paths.of(&j.recordings[i])
		for _, group := range j.layout.Recording.Labels {
			set(group, Printable(fields[group]))
		}
		for n := range rows {
			if row := rows[n][i]; row != nil {
				for k, l := range j.layout.Tables[n].Labels {
					set(l.Name, row.label(k))
				}
			}
		}
		j.recordings[i].Labels = pcg.MakeLabels(names, values)
	}
}
