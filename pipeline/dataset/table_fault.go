package dataset

import (
	"fmt"

	"phonocycle/pipeline/pcg"
)

// TableFault is a label table that could not be joined to the recordings as its
// layout says. There is at most one for a table: the first thing that is wrong.
type TableFault struct {
	Cause      string // with file and line
	Recordings int    // that should have a row
	Without    int    // of these, that have none

	// People says that the layout tells people apart by what could not be read. One
	// person may then count as several.
	People bool
}

func (f TableFault) String() string {
	text := f.Cause
	if f.Without > 0 {
		text += fmt.Sprintf("; %d of %d recordings have no row in it", f.Without, f.Recordings)
	}
	if f.People {
		text += "; people cannot be told apart as the layout says: one person may count as several"
	}
	return text
}

// joinedTable is a table with the recordings that it should describe.
type joinedTable struct {
	path       string
	table      *table // nil if it does not exist
	recordings int
	without    int    // recordings without a row
	first      string // of them
}

// count counts a recording and its row, nil if it has none.
func (t *joinedTable) count(rec *pcg.Recording, row *tableRow) {
	t.recordings++
	if row != nil {
		return
	}
	if t.without++; t.without == 1 {
		t.first = rec.ID
	}
}

// fault returns what is wrong with the table as a whole. An optional table may be
// absent: what it says of people is then unknown, which is a warning of its own.
func (t *joinedTable) fault(rule *compiledTable) (f TableFault, found bool) {
	f = TableFault{Recordings: t.recordings, Without: t.without, People: rule.SamePerson != "" || rule.Person != ""}
	switch {
	case t.table == nil && rule.Optional:
		return f, false
	case t.table == nil:
		f.Cause = Printable(t.path) + ": the table does not exist"
	case t.table.fault != nil:
		f.Cause = t.table.fault.Place() + ": " + t.table.fault.Message
		f.People = f.People && (t.table.unread || t.without > 0)
	case t.without > 0:
		f.Cause = fmt.Sprintf("%s: no row for recording %s", Printable(t.path), t.first)
	default:
		return f, false
	}
	return f, true
}
