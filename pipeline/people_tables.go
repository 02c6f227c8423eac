package pipeline

import (
	"slices"

	"phonocycle/pipeline/table"
)

// writePeople writes the table people from the recordings table of folder dir.
// Where people and recordings sort alike, as they mostly do, it reads that table
// once. Else it reads, for every part of people, the parts of recordings that
// hold one of them, so that memory does not grow with their number.
func writePeople(dir string, meta table.Metadata) (varying map[string]int, err error) {
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
			err = sums.add(&record.Row, record.Values)
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

// writePeopleApart writes the table one part after the other.
func writePeopleApart(dir string, columns []table.Column, meta table.Metadata, people []personSpan) (varying map[string]int, err error) {
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
			id := personID{row.DataSet, row.Person}
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
			if sum := index[personID{record.Row.DataSet, record.Row.Person}]; sum != nil {
				sum.add(&record.Row, record.Values)
			}
		}
	}
	return sums, nil
}
