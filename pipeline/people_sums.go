package pipeline

import (
	"cmp"
	"fmt"
	"slices"

	"phonocycle/pipeline/table"
)

// personID is a person of a data set.
type personID struct{ dataSet, person string }

// compare orders people by data set and name.
func (a personID) compare(b personID) int {
	return cmp.Or(cmp.Compare(a.dataSet, b.dataSet), cmp.Compare(a.person, b.person))
}

// peopleSums adds up people whose recordings come one by one. It writes a person
// when the last recording of the person has come and all people before are
// written. Others wait; with more of them than one part of the table holds,
// peopleSums gives up.
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

// add adds a recording.
func (p *peopleSums) add(row *table.Recording, cells table.DynamicValues) error {
	if p.tooMany {
		return nil
	}
	i, ok := slices.BinarySearchFunc(p.people, personID{row.DataSet, row.Person}, personID.compare)
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
