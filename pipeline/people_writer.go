package pipeline

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/table"
)

// peopleInPart is how many people one part of the table people holds, and so how
// many are added up at a time: a thousand take some 8 MB.
const peopleInPart = 1024

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
		parts: table.PartsOf[table.Person](dir), columns: columns, names: scoring.LabelNames(columns), meta: meta, varying: map[string]int{},
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
		if w.format, err = table.NewFormat[table.Person](PersonColumns(w.columns), w.meta); err != nil {
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

// finish completes the table, which has one part at least, and returns for each
// label the number of people for whom it is null because their recordings differ.
func (w *peopleWriter) finish() (varying map[string]int, err error) {
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
	return w.varying, nil
}

// varyingWarning says in one line which labels are null for some people, but for
// those in expected. It is empty if there are none.
func varyingWarning(varying map[string]int, expected []string) string {
	var labels []string
	for _, label := range slices.Sorted(maps.Keys(varying)) {
		if !slices.Contains(expected, label) {
			labels = append(labels, fmt.Sprintf("%s (%d)", label, varying[label]))
		}
	}
	if len(labels) == 0 {
		return ""
	}
	return "labels that differ between the recordings of some people (how many) are null for them in the table people: " + strings.Join(labels, ", ")
}

// PersonColumns returns the dynamic columns of the table people, given those of
// recordings.
func PersonColumns(recordings []table.Column) []table.Column {
	columns := slices.Clone(recordings)
	for i := range columns {
		if c := &columns[i]; c.Kind == table.Float {
			c.Doc = "mean over the measured recordings of the person, nulls left out, of: " + c.Doc
			c.Null = "null in all recordings of the person"
		}
	}
	return columns
}
