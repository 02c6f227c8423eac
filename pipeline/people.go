package pipeline

import (
	"context"
	"slices"

	"phonocycle/features"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// peopleOutput is the table people, with one row per person. Its parts are parts
// of the list of people.
type peopleOutput struct {
	run     *setup.Run
	sums    *peopleSums    // nil where parts were there before
	varying map[string]int // by label, people whose recordings differ in it
	written bool
}

func newPeople(run *setup.Run) (output, error) { return &peopleOutput{run: run}, nil }

func (o *peopleOutput) names() []string {
	var p table.Person
	return []string{p.Table().Name}
}

// parts is empty: finish writes the table again where a shard made parts.
func (o *peopleOutput) parts() []table.Parts { return nil }

func (o *peopleOutput) begin(whole bool) error {
	if whole {
		people, recordings := peopleOf(o.run.Corpus.Entries)
		columns := slices.Concat(o.run.Labels, ColumnsOf(features.RecordingFeatures()))
		o.sums = newPeopleSums(o.run.Config.Out, columns, o.run.Plan.Metadata(), people, recordings)
	}
	return nil
}

// open returns nothing of the part itself: a person may have recordings in
// several.
func (o *peopleOutput) open(part int) (partFile, error) {
	if o.sums == nil {
		return nil, nil
	}
	return &peopleFile{o, part == o.run.Plan.Parts()-1}, nil
}

// finish writes the table from the recordings table, unless it is complete.
func (o *peopleOutput) finish(_ context.Context, report *rundir.Report, _ workers.Progress) (err error) {
	if !o.written {
		if o.varying, err = writePeople(o.run.Config.Out, o.run.Plan.Metadata()); err != nil {
			return err
		}
	}
	if warning := varyingWarning(o.varying, o.run.Plan.RecordingLabels); warning != "" {
		report.Warnings = append(report.Warnings, warning)
	}
	return nil
}

func (o *peopleOutput) abort() {
	if o.sums != nil {
		o.sums.abort()
	}
}

// peopleFile adds the recordings of one part of the run to the sums.
type peopleFile struct {
	*peopleOutput
	last bool
}

func (f *peopleFile) append(r *result, _ any) error {
	return f.sums.add(&r.row, r.cells(len(features.RecordingFeatures())))
}

// Seal completes the table beside the last part of the run, if all people could
// be added up as their recordings came.
func (f *peopleFile) Seal() (err error) {
	if f.last && !f.sums.tooMany {
		f.varying, err = f.sums.finish()
		f.written = err == nil
	}
	return err
}

func (f *peopleFile) Commit() error { return nil }
func (f *peopleFile) Abort() error  { return nil }

// peopleOf returns the people of a list of recordings, sorted, and how many
// recordings each has.
func peopleOf(entries []corpus.Entry) (people []personID, recordings []int32) {
	all := make([]personID, len(entries))
	for i := range entries {
		all[i] = personID{entries[i].Recording.DataSet, entries[i].Person}
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
