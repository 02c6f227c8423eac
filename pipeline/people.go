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
	recordings := table.PartsOf[table.Recording](dir)
	people, err := listPeople(recordings)
	if err != nil {
		return nil, err
	}
	w := peopleWriter{dir: dir, meta: meta}
	for first := 0; first == 0 || first < len(people); first += peopleInPart { // a table without people has one part
		some := people[first:min(first+peopleInPart, len(people))]
		sums, columns, err := readPeople(recordings, some)
		if err != nil {
			return nil, err
		}
		if err := w.write(columns, sums); err != nil {
			return nil, err
		}
	}
	return w.warnings(), nil
}

// personID is a person of a data set.
type personID struct{ dataSet, person string }

// compare orders people by data set and name.
func (a personID) compare(b personID) int {
	return cmp.Or(cmp.Compare(a.dataSet, b.dataSet), cmp.Compare(a.person, b.person))
}

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
	slices.SortFunc(people, func(a, b personSpan) int { return a.compare(b.personID) })
	return people, nil
}

// readPeople sums up the recordings of some people, and returns the dynamic
// columns of the recordings table.
func readPeople(recordings table.Parts, people []personSpan) (sums []personSum, columns []table.Column, err error) {
	sums = make([]personSum, len(people))
	index := make(map[personID]*personSum, len(people))
	var first, last int
	for i, p := range people {
		if i == 0 {
			first, last = p.first, p.last
		}
		first, last = min(first, p.first), max(last, p.last)
		index[p.personID] = &sums[i]
	}
	for part := first; part <= last; part++ {
		r, err := table.Open[table.Recording](recordings.Path(part))
		if err != nil {
			return nil, nil, err
		}
		columns = r.Columns()
		for record, err := range r.Rows() {
			if err != nil {
				return nil, nil, err
			}
			if sum := index[personID{record.Row.Source, record.Row.Person}]; sum != nil {
				sum.add(&record.Row, record.Cells)
			}
		}
	}
	return sums, columns, nil
}

// peopleSums sums people up whose recordings come one by one, as long as they
// all fit into one part of the table people.
type peopleSums struct {
	columns []table.Column // dynamic ones of the recordings table
	index   map[personID]*personSum
	tooMany bool
}

func newPeopleSums(columns []table.Column) *peopleSums {
	return &peopleSums{columns: columns, index: map[personID]*personSum{}}
}

func (p *peopleSums) add(row *table.Recording, cells table.Cells) {
	if p.tooMany {
		return
	}
	id := personID{row.Source, row.Person}
	sum := p.index[id]
	if sum == nil {
		if len(p.index) == peopleInPart {
			p.index, p.tooMany = nil, true
			return
		}
		sum = &personSum{}
		p.index[id] = sum
	}
	sum.add(row, cells)
}

// write writes the table people below dir.
func (p *peopleSums) write(dir string, meta table.Metadata) (warnings []string, err error) {
	var sums []personSum
	for _, id := range slices.SortedFunc(maps.Keys(p.index), personID.compare) {
		sums = append(sums, *p.index[id])
	}
	w := peopleWriter{dir: dir, meta: meta}
	if err := w.write(p.columns, sums); err != nil {
		return nil, err
	}
	return w.warnings(), nil
}

// peopleWriter writes the table people, part by part.
type peopleWriter struct {
	dir     string
	meta    table.Metadata
	parts   int            // written
	varying map[string]int // by label, people whose recordings differ in it
}

// write writes some people as the next part, given the dynamic columns of the
// recordings table.
func (w *peopleWriter) write(columns []table.Column, sums []personSum) error {
	parts := table.PartsOf[table.Person](w.dir)
	if w.parts == 0 {
		w.varying = map[string]int{}
		if err := parts.Make(); err != nil {
			return err
		}
		if err := parts.Clear(); err != nil {
			return err
		}
	}
	people, err := table.Create[table.Person](parts.Path(w.parts), personColumns(columns), w.meta)
	if err != nil {
		return err
	}
	defer people.Abort()
	names := labelNames(columns)
	for i := range sums {
		sum := &sums[i]
		for _, k := range sum.varying {
			w.varying[names[k]]++
		}
		if err := people.Append(sum.finish(names)); err != nil {
			return err
		}
	}
	w.parts++
	return people.Commit()
}

// warnings says which labels are null for some people.
func (w *peopleWriter) warnings() (warnings []string) {
	for _, label := range slices.Sorted(maps.Keys(w.varying)) {
		warnings = append(warnings, fmt.Sprintf("label %s differs between the recordings of some people (%d) and is null for them in the table people",
			label, w.varying[label]))
	}
	return warnings
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
