package dataset

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/pcg"
)

// tableID tells apart the files that one rule of the layout may name.
type tableID struct {
	rule int
	path string
}

// table is one label table, read.
type table struct {
	path     string
	rows     []tableRow
	byKey    map[string]int
	provided map[string]bool // labels that have a column
}

// tableRow is kept small: while a data set is listed, the rows of its tables are
// half of all that is in memory.
type tableRow struct {
	key    string
	names  *rowNames // nil where the row has none
	labels []uint32  // by rule, as numbers of the set's words
	line   int32
	used   bool
}

// rowNames are what a row says beside its key and its labels.
type rowNames struct {
	other              string // second name of the same person
	person, site, take string
}

// words numbers the values that many rows have. The empty one is 0.
type words struct {
	number map[string]uint32
	values []string
}

func newWords() words { return words{map[string]uint32{"": 0}, []string{""}} }

// of returns the number of a value.
func (w *words) of(value string) uint32 {
	if n, ok := w.number[value]; ok {
		return n
	}
	n := uint32(len(w.values))
	value = strings.Clone(value) // and not the line that it is a part of
	w.number[value] = n
	w.values = append(w.values, value)
	return n
}

// intern returns the one copy of a value.
func (w *words) intern(value string) string { return w.values[w.of(value)] }

// joinTables reads the tables of the layout and gives the recordings what they
// say.
func (s *Set) joinTables() {
	rows := make([][]*tableRow, len(s.program.tables)) // of each rule, by recording
	provided := map[string]bool{}
	for _, g := range s.Layout.Recording.Labels {
		provided[g] = true
	}
	united := people{}
	for n := range s.program.tables {
		rule := &s.program.tables[n]
		rows[n] = make([]*tableRow, len(s.Recordings))
		found := false
		for i := range s.Recordings {
			if rule.Only != "" && !matchPattern(rule.Only, s.Recordings[i].Audio) {
				continue
			}
			if t := s.tableFor(n, i); t != nil {
				found = true
				rows[n][i] = s.joinRow(rule, t, i)
			}
		}
		for _, l := range rule.Labels {
			if found || !rule.Optional {
				provided[l.Name] = provided[l.Name] || !l.Optional
			}
		}
		s.closeTables(n, united, provided)
	}
	s.labelRecordings(rows, provided)
	for i := range s.Recordings {
		if p := s.Recordings[i].Person; p != "" {
			s.Recordings[i].Person = united.name(p)
		}
	}
}

// tableFor returns the table of rule n that speaks of recording i, or nil.
func (s *Set) tableFor(n, i int) *table {
	rule := &s.program.tables[n]
	p, ok := expandPath(rule.Path, s.fieldsAt(i))
	if !ok {
		return nil
	}
	id := tableID{n, p}
	if t, ok := s.tables[id]; ok {
		return t
	}
	var t *table
	if s.isFile(p) {
		t = s.readTable(rule, p)
	} else if !rule.Optional {
		s.report(Defect{File: p, Kind: KindTableMissing, Message: "the table of the layout is not there", Action: "its labels stay empty"})
	}
	s.tables[id] = t
	return t
}

// joinRow gives recording i what its row says and returns the row, or nil.
func (s *Set) joinRow(rule *tableProgram, t *table, i int) *tableRow {
	rec := &s.Recordings[i]
	key, ok := expand(rule.Match, s.fieldsAt(i))
	at, found := t.byKey[key]
	if !ok || !found {
		s.report(Defect{File: t.path, Kind: KindRowMissing, Recording: rec.ID,
			Message: fmt.Sprintf("no row for recording %s (key %q)", rec.ID, key), Action: "its labels stay empty"})
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

// closeTables looks at what the tables of rule n say beyond single recordings.
func (s *Set) closeTables(n int, united people, provided map[string]bool) {
	var ids []tableID
	for id, t := range s.tables {
		if id.rule == n && t != nil {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b tableID) int { return strings.Compare(a.path, b.path) })
	for _, id := range ids {
		t := s.tables[id]
		for name := range t.provided {
			provided[name] = true
		}
		for i := range t.rows {
			if r := &t.rows[i]; !r.used {
				s.report(Defect{File: t.path, Line: int(r.line), Kind: KindRowUnused, Message: fmt.Sprintf("no recording for the row of %q", r.key),
					Action: "not used"})
			}
		}
		if s.program.tables[n].SamePerson != "" {
			s.unitePeople(t, united)
		}
	}
}

// other returns the second name of the person.
func (r *tableRow) other() string {
	if r.names == nil {
		return ""
	}
	return r.names.other
}

// unitePeople unites the names that the rows of a table give one person and
// reports each person once, at the first row.
func (s *Set) unitePeople(t *table, united people) {
	for i := range t.rows {
		r := &t.rows[i]
		other := r.other()
		if other == "" || other == r.key {
			continue
		}
		united.unite(r.key, other)
		if back, ok := t.byKey[other]; !ok || t.rows[back].other() != r.key {
			s.report(Defect{File: t.path, Line: int(r.line), Kind: KindOneSided,
				Message: fmt.Sprintf("%s names %s as the same person, which does not name it back", r.key, other),
				Action:  "taken as one person all the same"})
		}
	}
	ids, at := map[string][]string{}, map[string]int{}
	var names []string // in the order of the rows
	for i := range t.rows {
		r := &t.rows[i]
		name := united.name(r.key)
		if _, ok := at[name]; !ok {
			at[name] = int(r.line)
			names = append(names, name)
		}
		ids[name] = append(ids[name], fmt.Sprintf("%s (line %d)", r.key, r.line))
	}
	for _, name := range names {
		if len(ids[name]) > 1 {
			s.report(Defect{File: t.path, Line: at[name], Kind: KindSamePerson,
				Message: strings.Join(ids[name], " and ") + " are one person", Action: "called " + name})
		}
	}
}

// labelRecordings gives the recordings their labels in the order of the layout,
// one of each that some table provides. Where several places give a value, the
// first that is not empty counts.
func (s *Set) labelRecordings(rows [][]*tableRow, provided map[string]bool) {
	names := s.labelNames(provided)
	at := map[string]int{}
	for k, name := range names {
		at[name] = k
	}
	values := make([]string, len(names))
	set := func(name, value string) {
		if k, ok := at[name]; ok && values[k] == "" {
			values[k] = value
		}
	}
	for i := range s.Recordings {
		clear(values)
		for _, g := range s.Layout.Recording.Labels {
			set(g, Printable(s.fieldsAt(i)[g]))
		}
		for n := range rows {
			if row := rows[n][i]; row != nil {
				for k, word := range row.labels {
					set(s.Layout.Tables[n].Labels[k].Name, s.words.values[word])
				}
			}
		}
		s.Recordings[i].Labels = pcg.MakeLabels(names, values)
	}
}

// labelNames lists the labels that some table or name provides.
func (s *Set) labelNames(provided map[string]bool) []string {
	var names []string
	add := func(name string) {
		if provided[name] && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	for _, g := range s.Layout.Recording.Labels {
		add(g)
	}
	for _, t := range s.Layout.Tables {
		for _, l := range t.Labels {
			add(l.Name)
		}
	}
	return names
}

// tableReader turns the lines of a table into rows.
type tableReader struct {
	set    *Set
	rule   *tableProgram
	table  *table
	column map[string]int // by the layout's word for it; absent ones are missing
	width  int
}

func (s *Set) readTable(rule *tableProgram, name string) *table {
	t := &table{path: name, byKey: map[string]int{}, provided: map[string]bool{}}
	r := tableReader{set: s, rule: rule, table: t}
	f, err := s.open(name)
	if err != nil {
		r.report(0, KindText, err.Error(), "its labels stay empty")
		return t
	}
	defer f.Close()
	ends, err := readLines(f, delimiterOf(rule.Delimiter, name), r.line)
	r.reportText(ends, err)
	return t
}

func (r *tableReader) report(line int, kind Kind, message, action string) {
	r.set.report(Defect{File: r.table.path, Line: line, Kind: kind, Message: message, Action: action})
}

// reportText reports what reading the text as a whole met.
func (r *tableReader) reportText(ends lineEnds, err error) {
	for _, d := range textDefects(r.table.path, ends, err) {
		d.Excludes = false
		r.set.report(d)
	}
}

// textDefects describes what readLines met in a file.
func textDefects(file string, ends lineEnds, err error) []Defect {
	var defects []Defect
	if ends.crlf > 0 {
		defects = append(defects, Defect{File: file, Line: ends.firstCRLF, Kind: KindCRLF,
			Message: fmt.Sprintf("%d lines end in CR LF, the first here", ends.crlf), Action: "read as line ends"})
	}
	var at *lineError
	if errors.As(err, &at) {
		defects = append(defects, Defect{File: file, Line: at.line, Kind: KindText, Message: at.err.Error(),
			Action: "nothing from here on is read", Excludes: true})
	}
	return defects
}

func (r *tableReader) line(n int, fields []string) error {
	if r.column == nil {
		if header := r.findColumns(n, fields); header {
			return nil
		}
	}
	if len(fields) != r.width {
		r.report(n, KindColumns, fmt.Sprintf("%d columns where %d belong", len(fields), r.width), "row not used")
		return nil
	}
	r.row(n, fields)
	return nil
}

// columns lists the columns the layout asks for.
func (rule *TableRule) columns() []string {
	all := []string{rule.Key, rule.Person, rule.Site, rule.Take, rule.SamePerson}
	for _, l := range rule.Labels {
		all = append(all, l.Column)
	}
	return slices.DeleteFunc(all, func(c string) bool { return c == "" })
}

// findColumns looks for the columns in the first line and reports whether that
// line is a header.
func (r *tableReader) findColumns(n int, fields []string) (header bool) {
	r.column, r.width = map[string]int{}, len(fields)
	optional := map[string]bool{r.rule.Person: true, r.rule.Site: true, r.rule.Take: true}
	for _, l := range r.rule.Labels {
		optional[l.Column] = optional[l.Column] || l.Optional
	}
	header = r.rule.Header == headerPresent
	for _, want := range r.rule.columns() {
		at := -1
		if header {
			at = slices.Index(fields, want)
		} else if k, err := strconv.Atoi(want); err == nil && k <= len(fields) {
			at = k - 1
		}
		if at >= 0 {
			r.column[want] = at
			continue
		}
		if optional[want] {
			continue
		}
		message := fmt.Sprintf("no column %q", want)
		if near := nearest(want, fields); near != "" {
			message += fmt.Sprintf(", but %q", near)
		}
		r.report(n, KindColumnMissing, message, "what it says stays empty")
	}
	for _, l := range r.rule.Labels {
		if _, ok := r.column[l.Column]; ok {
			r.table.provided[l.Name] = true
		}
	}
	return header
}

// cell returns the content of a column, empty where it is absent or says
// nothing.
func (r *tableReader) cell(column string, fields []string) string {
	at, ok := r.column[column]
	if !ok {
		return ""
	}
	value := strings.ToValidUTF8(fields[at], "\uFFFD")
	if slices.ContainsFunc(r.rule.Missing, func(m string) bool { return strings.EqualFold(m, value) }) {
		return ""
	}
	return value
}

var decimalID = regexp.MustCompile(`^(\d+)\.0+$`)

// id returns the name in a column. Programs that hold a column with missing
// values as floating point write 50379.0 for the id 50379.
func (r *tableReader) id(n int, column string, fields []string) string {
	value := r.cell(column, fields)
	m := decimalID.FindStringSubmatch(value)
	if m == nil {
		return value
	}
	r.report(n, KindIDAsNumber, fmt.Sprintf("column %q: id written as %s", column, value), "read as "+m[1])
	return m[1]
}

func (r *tableReader) row(n int, fields []string) {
	row := tableRow{line: int32(n)}
	if r.rule.key == nil {
		row.key = r.id(n, r.rule.Key, fields)
	} else {
		cell := r.cell(r.rule.Key, fields)
		m := r.rule.key.FindStringSubmatch(cell)
		if m == nil {
			r.report(n, KindName, fmt.Sprintf("column %q: %q does not fit the layout's key_pattern", r.rule.Key, shorten(cell)), "row not used")
			return
		}
		row.key = m[r.rule.key.SubexpIndex("key")]
	}
	if first, ok := r.table.byKey[row.key]; ok {
		r.report(n, KindRowRepeated, fmt.Sprintf("%q already has line %d", row.key, r.table.rows[first].line), "the first counts")
		return
	}
	names := rowNames{person: r.id(n, r.rule.Person, fields), site: r.cell(r.rule.Site, fields), other: r.id(n, r.rule.SamePerson, fields)}
	if names.take = r.cell(r.rule.Take, fields); names.take != "" {
		if k, err := strconv.Atoi(names.take); err != nil || k < 1 {
			r.report(n, KindNotNumber, fmt.Sprintf("column %q: take %q is not a number from 1", r.rule.Take, shorten(names.take)), "not used")
		}
	}
	words := &r.set.words
	row.labels = make([]uint32, len(r.rule.Labels))
	for i := range r.rule.Labels {
		if l := &r.rule.Labels[i]; r.table.provided[l.Name] {
			row.labels[i] = words.of(r.label(n, l, r.cell(l.Column, fields)))
		}
	}
	row.key = strings.Clone(row.key) // and not the line that it is a part of
	if names != (rowNames{}) {
		row.names = &rowNames{other: strings.Clone(names.other), person: strings.Clone(names.person), site: words.intern(names.site), take: words.intern(names.take)}
	}
	r.table.byKey[row.key] = len(r.table.rows)
	r.table.rows = append(r.table.rows, row)
}

// label checks the value of a label against what the layout says of it.
func (r *tableReader) label(n int, l *LabelRule, value string) string {
	if value == "" {
		return ""
	}
	if l.Codes != nil {
		meaning, ok := l.Codes[value]
		if !ok {
			r.report(n, KindCode, fmt.Sprintf("column %q: %q is none of the layout's codes", l.Column, shorten(value)), "label left empty")
		}
		return meaning
	}
	_, err := parseDecimal(value)
	switch {
	case l.Type == labelNumber && err != nil:
		r.report(n, KindNotNumber, fmt.Sprintf("column %q: %q is not a number", l.Column, shorten(value)), "label left empty")
		return ""
	case (l.Type == labelText || l.Type == "") && err == nil:
		r.report(n, KindNumber, fmt.Sprintf("column %q: the number %s where text or a missing value belongs", l.Column, value), "kept as text")
	}
	return value
}
