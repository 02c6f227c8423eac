package dataset

import (
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
	return r.table, append(r.defects, textDefects(name, ends, err, tableCut)...)
}

func (r *tableReader) found(t defectType, line int, args ...any) {
	r.defects = append(r.defects, t.at(r.table.path, line, args...))
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
		hint := ""
		if near := yamlcheck.Nearest(want, fields); near != "" {
			hint = ", but a column " + strconv.Quote(near)
		}
		r.found(tableColumn, n, want, hint)
	}
	for _, l := range r.rule.Labels {
		if _, ok := r.column[l.Column]; ok {
			r.table.provided[l.Name] = true
		}
	}
	return header
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
		row.labels[i] = unique.Make(r.label(n, l, r.cell(l.Column, fields)))
	}
	row.key = strings.Clone(row.key) // so that the rest of the line is freed
	row.names = &noNames
	if names != noNames {
		row.names = &rowNames{other: strings.Clone(names.other), person: strings.Clone(names.person), site: strings.Clone(names.site), take: strings.Clone(names.take)}
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
			r.found(labelCode, n, l.Column, shorten(value))
		}
		return meaning
	}
	_, err := parseDecimal(value)
	switch {
	case l.Type == labelNumber && err != nil:
		r.found(labelNotNumber, n, l.Column, shorten(value))
		return ""
	case (l.Type == labelText || l.Type == "") && err == nil:
		r.found(numberInText, n, l.Column, value)
	}
	return value
}
