package dataset

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unique"

	"phonocycle/pipeline/yamlcheck"
)

// table is one label table, read.
type table struct {
	path     string
	rows     []tableRow
	byKey    map[string]int
	provided map[string]bool // labels that have a column

	fault  *Defect // the first for which rows or columns are lost; nil if there is none
	unread bool    // rows are lost, or a column that tells who is who
}

// tableRow is small, since the rows of the tables are half of the memory of
// listing a data set.
type tableRow struct {
	key    string
	names  *rowNames               // never nil
	labels []unique.Handle[string] // by rule; many rows share their values
	line   int32
	used   bool
}

// rowNames are what a row says beside its key and its labels.
type rowNames struct {
	other              string // second name of the same person
	person, site, take string
}

// noNames is shared by all rows that name nothing.
var noNames rowNames

// tableReader turns the lines of a table into rows.
type tableReader struct {
	rule    *compiledTable
	table   *table
	column  map[string]int // by its name in the layout; absent ones are missing
	width   int
	defects []Defect
}

// readTable reads a table below f.
func readTable(f *folder, rule *compiledTable, name string) (*table, []Defect) {
	r := tableReader{rule: rule, table: &table{path: name, byKey: map[string]int{}, provided: map[string]bool{}}}
	file, err := f.open(name)
	if err != nil {
		r.found(tableUnreadable, 0, err)
		return r.table, r.defects
	}
	defer file.Close()
	ends, err := readLines(file, delimiterOf(rule.Delimiter, name), r.line)
	for _, d := range textDefects(name, ends, err, tableCut) {
		r.add(d, d.Kind == tableCut.kind)
	}
	return r.table, r.defects
}

func (r *tableReader) found(t defectType, line int, args ...any) {
	lost := t == tableUnreadable || t == tableColumns
	r.add(t.at(r.table.path, line, args...), lost)
}

// add adds a defect; lost says that a row or a column that tells who is who is
// lost by it.
func (r *tableReader) add(d Defect, lost bool) {
	r.defects = append(r.defects, d)
	r.table.unread = r.table.unread || lost
	if r.table.fault == nil && (lost || d.Kind == tableColumn.kind) {
		r.table.fault = &d
	}
}

func (r *tableReader) line(n int, fields []string) error {
	if r.column == nil {
		if header := r.findColumns(n, fields); header {
			return nil
		}
	}
	if len(fields) != r.width {
		r.found(tableColumns, n, len(fields), r.width)
		return nil
	}
	r.row(n, fields)
	return nil
}

// findColumns looks for the columns in the first line and reports whether that
// line is a header.
func (r *tableReader) findColumns(n int, fields []string) (header bool) {
	r.column, r.width = map[string]int{}, len(fields)
	optional := map[string]bool{r.rule.Site: true, r.rule.Take: true}
	for _, l := range r.rule.Labels {
		optional[l.Column] = optional[l.Column] || l.Optional
	}
	// A column of people may be absent too, but not if it is misspelt.
	optional[r.rule.Person] = yamlcheck.Nearest(r.rule.Person, fields) == ""
	whoIsWho := []string{r.rule.Key, r.rule.Person, r.rule.SamePerson}
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
		d := tableColumn.at(r.table.path, n, want, r.columnHint(want, fields))
		r.add(d, slices.Contains(whoIsWho, want))
	}
	for _, l := range r.rule.Labels {
		if _, ok := r.column[l.Column]; ok {
			r.table.provided[l.Name] = true
		}
	}
	return header
}

// columnHint says what may stand in place of a column that is missing: another
// delimiter, or a column with nearly that name.
func (r *tableReader) columnHint(column string, fields []string) string {
	used := delimiterOf(r.rule.Delimiter, r.table.path)
	line := strings.Join(fields, string(used))
	for _, name := range slices.Sorted(maps.Keys(delimiters)) {
		d := delimiters[name]
		if d == used || d == ' ' {
			continue
		}
		found, err := splitFields(line, d)
		if err != nil || len(found) <= len(fields) {
			continue
		}
		if n, err := strconv.Atoi(column); slices.Contains(found, column) || r.rule.Header == headerAbsent && err == nil && n <= len(found) {
			return fmt.Sprintf(": the columns seem to be separated by %ss, not by %ss: save the table so, or set delimiter: %s in the layout",
				name, delimiterName(used), name)
		}
	}
	if near := yamlcheck.Nearest(column, fields); near != "" {
		return ", but a column " + strconv.Quote(near)
	}
	const most = 12
	var names []string
	for _, name := range fields[:min(most, len(fields))] {
		names = append(names, shorten(name))
	}
	if len(fields) > most {
		names = append(names, "…")
	}
	return ": it has " + strings.Join(names, ", ")
}

// cell returns the content of a column, empty if the column is absent or the
// value is missing.
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
	r.defects = append(r.defects, idAsNumber.at(r.table.path, n, column, value).withAction(m[1]))
	return m[1]
}

func (r *tableReader) row(n int, fields []string) {
	row := tableRow{line: int32(n)}
	if r.rule.KeyPattern == "" {
		row.key = r.id(n, r.rule.Key, fields)
	} else {
		cell := r.cell(r.rule.Key, fields)
		key, ok := r.rule.key.of(cell)
		if !ok {
			r.found(rowKey, n, r.rule.Key, shorten(cell))
			return
		}
		row.key = key
	}
	if first, ok := r.table.byKey[row.key]; ok {
		r.found(rowRepeated, n, row.key, r.table.rows[first].line)
		return
	}
	names := rowNames{person: r.id(n, r.rule.Person, fields), site: r.cell(r.rule.Site, fields), other: r.id(n, r.rule.SamePerson, fields)}
	if names.take = r.cell(r.rule.Take, fields); names.take != "" {
		if k, err := strconv.Atoi(names.take); err != nil || k < 1 {
			r.found(takeNotNumber, n, r.rule.Take, shorten(names.take))
		}
	}
	row.labels = make([]unique.Handle[string], len(r.rule.Labels))
	for i := range r.rule.Labels {
		l := &r.rule.Labels[i]
		value, wrong := labelOf(r.cell(l.Column, fields), l.Type, l.Codes)
		if wrong != nil {
			r.found(*wrong, n, fmt.Sprintf("column %q", l.Column), shorten(r.cell(l.Column, fields)))
		}
		row.labels[i] = unique.Make(value)
	}
	row.key = strings.Clone(row.key) // so that the rest of the line is freed
	row.names = &noNames
	if names != noNames {
		row.names = &rowNames{other: strings.Clone(names.other), person: strings.Clone(names.person), site: strings.Clone(names.site), take: strings.Clone(names.take)}
	}
	r.table.byKey[row.key] = len(r.table.rows)
	r.table.rows = append(r.table.rows, row)
}

// labelOf returns a label that a data set writes as text, and what is wrong with
// it by its type and codes, nil for nothing.
func labelOf(text, kind string, codes map[string]string) (label string, wrong *defectType) {
	if text == "" {
		return "", nil
	}
	if codes != nil {
		meaning, ok := codes[text]
		if !ok {
			return "", &labelCode
		}
		return meaning, nil
	}
	_, err := parseDecimal(text)
	switch {
	case kind == labelNumber && err != nil:
		return "", &labelNotNumber
	case (kind == labelText || kind == "") && err == nil:
		return text, &numberInText
	}
	return text, nil
}
