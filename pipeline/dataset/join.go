package dataset

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/pcg"
)

// joiner gives recordings what the tables of a layout say of them.
type joiner struct {
	set      *Set
	listing  *listing
	compiled *compiledLayout

	isTable  map[string]bool // by the path of each file that was read as one
	provided map[string]bool // labels that the data set has
	united   people
	defects  []Defect
}

// join reads the tables and sets person, site, take and labels.
func (j *joiner) join() {
	j.isTable, j.provided, j.united = map[string]bool{}, map[string]bool{}, people{}
	for _, group := range j.set.Layout.Recording.Labels {
		j.provided[group] = true
	}
	rows := make([][]*tableRow, len(j.compiled.tables)) // of each rule, by recording
	for n := range j.compiled.tables {
		rule := &j.compiled.tables[n]
		rows[n] = make([]*tableRow, len(j.set.Recordings))
		tables := map[string]*joinedTable{} // by path
		for i := range j.set.Recordings {
			rec := &j.set.Recordings[i]
			if rule.Only != "" && !matchPattern(rule.Only, rec.Audio) {
				continue
			}
			file, ok := expandPath(rule.Path, j.compiled.paths.of(rec))
			if !ok {
				continue
			}
			t, known := tables[file]
			if !known {
				t = &joinedTable{path: file, table: j.open(rule, file)}
				tables[file] = t
			}
			if t.table != nil {
				rows[n][i] = j.joinRow(rule, t.table, rec)
			}
			t.count(rec, rows[n][i])
		}
		exists := false
		for _, file := range slices.Sorted(maps.Keys(tables)) {
			t := tables[file]
			if t.table != nil {
				exists = true
				j.checkTable(rule, t.table)
			}
			if fault, ok := t.fault(rule); ok {
				j.set.TableFaults = append(j.set.TableFaults, fault)
			}
		}
		for _, l := range rule.Labels {
			if exists || !rule.Optional {
				j.provided[l.Name] = j.provided[l.Name] || !l.Optional
			}
		}
	}
	j.setLabels(rows)
	for i := range j.set.Recordings {
		if p := j.set.Recordings[i].Person; p != "" {
			j.set.Recordings[i].Person = j.united.name(p)
		}
	}
}

// open reads a table, or returns nil if it does not exist.
func (j *joiner) open(rule *compiledTable, file string) *table {
	if _, exists := j.listing.find(file); !exists {
		if !rule.Optional {
			j.defects = append(j.defects, tableMissing.at(file, 0))
		}
		return nil
	}
	j.isTable[file] = true
	t, defects := readTable(j.set.folder, rule, file)
	j.defects = append(j.defects, defects...)
	return t
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

// checkTable looks at a table as a whole.
func (j *joiner) checkTable(rule *compiledTable, t *table) {
	for name := range t.provided {
		j.provided[name] = true
	}
	for i := range t.rows {
		if r := &t.rows[i]; !r.used {
			j.defects = append(j.defects, rowUnused.at(t.path, int(r.line), r.key))
		}
	}
	if rule.SamePerson != "" {
		j.unitePeople(t)
	}
}

// unitePeople unites the names that the rows of a table give one person, and
// reports each person once, at the first row.
func (j *joiner) unitePeople(t *table) {
	for i := range t.rows {
		r := &t.rows[i]
		other := r.names.other
		if other == "" || other == r.key {
			continue
		}
		j.united.unite(r.key, other)
		if back, ok := t.byKey[other]; !ok || t.rows[back].names.other != r.key {
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

// pathLabel returns the label of a recording that its path writes as text.
func (j *joiner) pathLabel(rec *pcg.Recording, label, text string) string {
	rule := &j.set.Layout.Recording
	value, wrong := labelOf(text, cmp.Or(rule.Types[label], labelAny), rule.Codes[label])
	if wrong != nil {
		j.defects = append(j.defects, wrong.at(rec.Audio, 0, fmt.Sprintf("label %q", label), shorten(text)).of(rec.ID))
	}
	return value
}

// setLabels gives the recordings the labels that some table or path provides, in
// the order of the layout. If several sources give a value, the first one that
// is not empty counts.
func (j *joiner) setLabels(rows [][]*tableRow) {
	var names []string
	at := map[string]int{}
	for _, s := range j.set.Layout.labels() {
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
	for i := range j.set.Recordings {
		clear(values)
		fields := j.compiled.paths.of(&j.set.Recordings[i])
		for _, group := range j.set.Layout.Recording.Labels {
			set(group, j.pathLabel(&j.set.Recordings[i], group, Printable(fields[group])))
		}
		for n := range rows {
			if row := rows[n][i]; row != nil {
				for k, l := range j.set.Layout.Tables[n].Labels {
					set(l.Name, row.labels[k].Value())
				}
			}
		}
		j.set.Recordings[i].Labels = pcg.MakeLabels(names, values)
	}
}
