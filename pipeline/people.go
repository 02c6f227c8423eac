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
// the table people. For every part of people it reads those parts of recordings
// that hold one of them, so that memory does not grow with their number. Ids of
// people and of recordings mostly sort alike, and then it reads each part a few
// times at most.
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
	recordings := table.PartsOf[table.Recording](dir)
	people, err := listPeople(recordings)
	if err != nil {
		return nil, err
	}
	varying := map[string]int{}
	for part := 0; part == 0 || part*peopleInPart < len(people); part++ { // a table without people has one part
		some := people[part*peopleInPart : min((part+1)*peopleInPart, len(people))]
		if err := writePeoplePart(recordings, parts.Path(part), some, meta, varying); err != nil {
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

// personSpan says which parts of recordings hold a person.
type personSpan struct {
	personID
	first, last int
}

// listPeople returns the people of the recordings table, sorted by data set and
// name.
func listPeople(recordings table.Parts) ([]personSpan, error) {
	parts, err := recordings.List()
	if err != nil {
		return nil, err
	}
	var people []personSpan
	index := map[personID]int{}
	for _, part := range parts {
		for row, err := range table.Read[table.Recording](recordings.Path(part)) {
			if err != nil {
				return nil, err
			}
			id := personID{row.Source, row.Person}
			i, ok := index[id]
			if !ok {
				i = len(people)
				index[id] = i
				people = append(people, personSpan{id, part, part})
			}
			people[i].last = part
		}
	}
	slices.SortFunc(people, func(a, b personSpan) int {
		return cmp.Or(cmp.Compare(a.dataSet, b.dataSet), cmp.Compare(a.person, b.person))
	})
	return people, nil
}

// writePeoplePart writes the rows of some people, and counts by label those
// whose recordings differ in it.
func writePeoplePart(recordings table.Parts, path string, people []personSpan, meta table.Metadata, varying map[string]int) error {
	sums := make([]personSum, len(people))
	index := make(map[personID]*personSum, len(people))
	var first, last int
	for i, p := range people {
		if i == 0 {
			first, last = p.first, p.last
		}
		first, last = min(first, p.first), max(last, p.last)
		index[p.personID] = &sums[i]
	}
	var columns []table.Column
	for part := first; part <= last; part++ {
		r, err := table.Open[table.Recording](recordings.Path(part))
		if err != nil {
			return err
		}
		columns = r.Columns()
		for record, err := range r.Rows() {
			if err != nil {
				return err
			}
			if sum := index[personID{record.Row.Source, record.Row.Person}]; sum != nil {
				sum.add(&record.Row, record.Cells)
			}
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
		p.row.MethodKnowsPerson = row.MethodKnowsPerson
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
