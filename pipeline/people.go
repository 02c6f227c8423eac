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
// the table people. Where ids of people and of recordings sort alike, as they
// mostly do, it reads that table once. Else it reads for every part of people
// those parts of recordings that hold one of them, so that memory does not grow
// with their number.
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
	r, err := table.OpenParts[table.Recording](recordings)
	if err != nil {
		return nil, err
	}
	ids, counts := make([]personID, len(people)), make([]int32, len(people))
	for i, p := range people {
		ids[i], counts[i] = p.personID, p.recordings
	}
	sums := newPeopleSums(dir, r.Columns(), meta, ids, counts)
	defer sums.abort()
	for record, err := range r.Rows() {
		if err == nil {
			err = sums.add(&record.Row, record.Cells)
		}
		if err != nil {
			return nil, err
		}
		if sums.tooMany {
			return writePeopleApart(dir, r.Columns(), meta, people)
		}
	}
	return sums.finish()
}

// writePeopleApart does the same for one part of people after the other.
func writePeopleApart(dir string, columns []table.Column, meta table.Metadata, people []personSpan) (warnings []string, err error) {
	w := newPeopleWriter(dir, columns, meta)
	defer w.abort()
	for some := range slices.Chunk(people, peopleInPart) {
		sums, err := readPeople(table.PartsOf[table.Recording](dir), some)
		if err != nil {
			return nil, err
		}
		for i := range sums {
			if err := w.append(&sums[i]); err != nil {
				return nil, err
			}
		}
	}
	return w.finish()
}

// personID is a person of a data set.
type personID struct{ dataSet, person string }

// compare orders people by data set and name.
func (a personID) compare(b personID) int {
	return cmp.Or(cmp.Compare(a.dataSet, b.dataSet), cmp.Compare(a.person, b.person))
}

// personSpan says how many recordings a person has, and which parts of the
// recordings table hold them.
type personSpan struct {
	personID
	recordings  int32
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
				people = append(people, personSpan{id, 0, part, part})
			}
			people[i].recordings++
			people[i].last = part
		}
	}
	slices.SortFunc(people, func(a, b personSpan) int { return a.compare(b.personID) })
	return people, nil
}

// readPeople sums up the recordings of some people.
func readPeople(recordings table.Parts, people []personSpan) ([]personSum, error) {
	sums := make([]personSum, len(people))
	index := make(map[personID]*personSum, len(people))
	first, last := people[0].first, people[0].last
	for i, p := range people {
		first, last = min(first, p.first), max(last, p.last)
		index[p.personID] = &sums[i]
	}
	for part := first; part <= last; part++ {
		r, err := table.Open[table.Recording](recordings.Path(part))
		if err != nil {
			return nil, err
		}
		for record, err := range r.Rows() {
			if err != nil {
				return nil, err
			}
			if sum := index[personID{record.Row.Source, record.Row.Person}]; sum != nil {
				sum.add(&record.Row, record.Cells)
			}
		}
	}
	return sums, nil
}

// peopleSums sums people up whose recordings come one by one, and writes each
// person when the last of them and all people before are there. At most as many
// wait for that as one part of the table holds; with more it gives up.
type peopleSums struct {
	*peopleWriter
	people  []personID // all of them, sorted
	left    []int32    // recordings of each that have not come
	next    int        // the first who is not written
	waiting map[int]*personSum
	tooMany bool
}

func newPeopleSums(dir string, columns []table.Column, meta table.Metadata, people []personID, recordings []int32) *peopleSums {
	return &peopleSums{
		peopleWriter: newPeopleWriter(dir, columns, meta),
		people:       people, left: recordings, waiting: map[int]*personSum{},
	}
}

// peopleOf returns the people of a list of recordings, sorted, and how many
// recordings each has.
func peopleOf(entries []entry) (people []personID, recordings []int32) {
	all := make([]personID, len(entries))
	for i := range entries {
		all[i] = personID{entries[i].recording.Source, entries[i].person}
	}
	slices.SortFunc(all, personID.compare)
	for i, id := range all {
		if i == 0 || id != all[i-1] {
			people, recordings = append(people, id), append(recordings, 0)
		}
		recordings[len(recordings)-1]++
	}
	return people, recordings
}

// add adds a recording.
func (p *peopleSums) add(row *table.Recording, cells table.Cells) error {
	if p.tooMany {
		return nil
	}
	i, ok := slices.BinarySearchFunc(p.people, personID{row.Source, row.Person}, personID.compare)
	if !ok {
		return fmt.Errorf("recording %s: person %s is not in the list", row.Recording, row.Person)
	}
	sum := p.waiting[i]
	if sum == nil {
		if len(p.waiting) == peopleInPart {
			p.waiting, p.tooMany = nil, true
			p.abort()
			return nil
		}
		sum = &personSum{}
		p.waiting[i] = sum
	}
	sum.add(row, cells)
	p.left[i]--
	for ; p.next < len(p.people) && p.left[p.next] == 0; p.next++ {
		if err := p.append(p.waiting[p.next]); err != nil {
			return err
		}
		delete(p.waiting, p.next)
	}
	return nil
}

// peopleWriter writes the table people, part by part.
type peopleWriter struct {
	parts   table.Parts
	columns []table.Column
	names   []string // of the labels
	meta    table.Metadata
	format  *table.Format[table.Person]
	part    *table.Writer[table.Person]
	begun   int            // parts
	varying map[string]int // by label, people whose recordings differ in it
}

// newPeopleWriter returns a writer of the table below dir, given the dynamic
// columns of the recordings table.
func newPeopleWriter(dir string, columns []table.Column, meta table.Metadata) *peopleWriter {
	return &peopleWriter{
		parts: table.PartsOf[table.Person](dir), columns: columns, names: labelNames(columns), meta: meta, varying: map[string]int{},
	}
}

// begin begins the next part, of the first after it has made room for the table.
func (w *peopleWriter) begin() (err error) {
	if w.format == nil {
		if err := w.parts.Make(); err != nil {
			return err
		}
		if err := w.parts.Clear(); err != nil {
			return err
		}
		if w.format, err = table.NewFormat[table.Person](personColumns(w.columns), w.meta); err != nil {
			return err
		}
	}
	w.part, err = w.format.Create(w.parts.Path(w.begun))
	w.begun++
	return err
}

// append writes the next person.
func (w *peopleWriter) append(sum *personSum) error {
	if w.part == nil {
		if err := w.begin(); err != nil {
			return err
		}
	}
	for _, k := range sum.varying {
		w.varying[w.names[k]]++
	}
	if err := w.part.Append(sum.finish(w.names)); err != nil {
		return err
	}
	if w.part.Rows() < peopleInPart {
		return nil
	}
	return w.commit()
}

func (w *peopleWriter) commit() error {
	part := w.part
	w.part = nil
	return part.Commit()
}

// abort removes the part under way.
func (w *peopleWriter) abort() {
	if w.part != nil {
		_ = w.part.Abort()
		w.part = nil
	}
}

// finish completes the table, which has one part at least, and says which labels
// are null for some people.
func (w *peopleWriter) finish() (warnings []string, err error) {
	if w.begun == 0 {
		if err := w.begin(); err != nil {
			return nil, err
		}
	}
	if w.part != nil {
		if err := w.commit(); err != nil {
			return nil, err
		}
	}
	for _, label := range slices.Sorted(maps.Keys(w.varying)) {
		warnings = append(warnings, fmt.Sprintf("label %s differs between the recordings of some people (%d) and is null for them in the table people",
			label, w.varying[label]))
	}
	return warnings, nil
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
