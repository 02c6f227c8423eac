package pipeline

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"phonocycle/pipeline/table"
)

// peopleInPart is how many people one part of the table people holds, and so how
// many are summed up at a time: a thousand take some 8 MB.
const peopleInPart = 1024

// writePeople sums the recordings table of folder dir up by person and writes
// the table people. It reads the recordings once for every part of people, so
// that memory does not grow with their number.
//
// A feature of a person is the mean of that feature over the person's measured
// recordings, each of which counts alike however long it is. A label is given
// where all recordings that have it agree.
func writePeople(dir string, meta table.Metadata) (warnings []string, err error) {
	parts := table.PartsOf[table.Person](dir)
	if err := parts.Make(); err != nil {
		return nil, err
	}
	if err := parts.Clear(); err != nil {
		return nil, err
	}
	people, err := listPeople(dir)
	if err != nil {
		return nil, err
	}
	varying := map[string]int{}
	for part := 0; part == 0 || part*peopleInPart < len(people); part++ { // a table without people has one part
		some := people[part*peopleInPart : min((part+1)*peopleInPart, len(people))]
		if err := writePeoplePart(dir, parts.Path(part), some, meta, varying); err != nil {
			return nil, err
		}
	}
	for _, label := range slices.Sorted(maps.Keys(varying)) {
		warnings = append(warnings, fmt.Sprintf("label %s differs between the recordings of some people (%d) and is null for them in the table people",
			label, varying[label]))
	}
	return warnings, nil
}

// personID is a person of a data set.
type personID struct{ dataSet, person string }

// listPeople returns the people of the recordings table, sorted by data set and
// name.
func listPeople(dir string) ([]personID, error) {
	seen := map[personID]bool{}
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](dir)) {
		if err != nil {
			return nil, err
		}
		seen[personID{row.Source, row.Person}] = true
	}
	return slices.SortedFunc(maps.Keys(seen), func(a, b personID) int {
		return cmp.Or(cmp.Compare(a.dataSet, b.dataSet), cmp.Compare(a.person, b.person))
	}), nil
}

// writePeoplePart writes the rows of some people, and counts by label those
// whose recordings differ in it.
func writePeoplePart(dir, path string, people []personID, meta table.Metadata, varying map[string]int) error {
	recordings, err := table.OpenParts[table.Recording](table.PartsOf[table.Recording](dir))
	if err != nil {
		return err
	}
	columns := recordings.Columns()
	sums := make([]personSum, len(people))
	index := make(map[personID]*personSum, len(people))
	for i, p := range people {
		index[p] = &sums[i]
	}
	for record, err := range recordings.Rows() {
		if err != nil {
			return err
		}
		if sum := index[personID{record.Row.Source, record.Row.Person}]; sum != nil {
			sum.add(&record.Row, record.Cells)
		}
	}
	w, err := table.Create[table.Person](path, personColumns(columns), meta)
	if err != nil {
		return err
	}
	defer w.Abort()
	names := labelNames(columns)
	for i := range sums {
		sum := &sums[i]
		for _, k := range sum.varying {
			varying[names[k]]++
		}
		if err := w.Append(sum.finish(names)); err != nil {
			return err
		}
	}
	return w.Commit()
}

// personColumns returns the dynamic columns of the table people, given those of
// recordings.
func personColumns(recordings []table.Column) []table.Column {
	columns := slices.Clone(recordings)
	for i := range columns {
		if c := &columns[i]; c.Kind == table.Float {
			c.Doc = "mean over the measured recordings of the person, nulls left out, of: " + c.Doc
			c.Null = "null in all recordings of the person"
		}
	}
	return columns
}

// labelNames returns the names of the label columns among dynamic ones.
func labelNames(columns []table.Column) []string {
	var names []string
	for _, c := range columns {
		if c.Kind == table.Category {
			names = append(names, c.Name)
		}
	}
	return names
}

// personSum gathers the recordings of one person.
type personSum struct {
	row     table.Person
	labels  []string
	varying []int // numbers of the labels in which recordings differ, sorted
	sites   []string
	sums    []float64
	counts  []int32
}

func (p *personSum) add(row *table.Recording, cells table.Cells) {
	if p.row.Recordings == 0 {
		p.row = table.Person{Person: row.Person, DataSet: row.Source, Fold: row.Fold}
		p.labels = make([]string, len(cells.Labels))
		p.sums, p.counts = make([]float64, len(cells.Floats)), make([]int32, len(cells.Floats))
	}
	p.row.Recordings++
	for k, value := range cells.Labels {
		switch {
		case value == "" || value == p.labels[k] || slices.Contains(p.varying, k):
		case p.labels[k] == "":
			p.labels[k] = value
		default:
			p.varying = append(p.varying, k)
		}
	}
	if row.Outcome != table.Done {
		return
	}
	if p.row.Measured++; p.row.Measured == 1 {
		p.row.Method, p.row.ModelDigest, p.row.SegmentationSource = row.Method, row.ModelDigest, row.SegmentationSource
	}
	if row.Site != "" && !slices.Contains(p.sites, row.Site) {
		p.sites = append(p.sites, row.Site)
	}
	for k, v := range cells.Floats {
		if !math.IsNaN(v) {
			p.sums[k] += v
			p.counts[k]++
		}
	}
}

// finish returns the row of the person.
func (p *personSum) finish(labels []string) (table.Person, table.Cells) {
	slices.Sort(p.sites)
	p.row.Sites = strings.Join(p.sites, "+")
	slices.Sort(p.varying)
	var names []string
	for _, k := range p.varying {
		p.labels[k] = ""
		names = append(names, labels[k])
	}
	p.row.VaryingLabels = strings.Join(names, "+")
	means := p.sums
	for k, n := range p.counts {
		means[k] /= float64(n) // 0/0 is null
	}
	return p.row, table.Cells{Labels: p.labels, Floats: means}
}
