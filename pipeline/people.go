package pipeline

import (
	"context"
	"slices"

	"phonocycle/features"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// peopleOutput is the table people, with one row per person. Its parts are parts
// of the list of people.
type peopleOutput struct {
	job     *job
	sums    *peopleSums // nil where parts were there before
	varying []string    // warnings of labels that differ between the recordings of a person
	written bool
}

func newPeople(j *job) (output, error) { return &peopleOutput{job: j}, nil }

func (o *peopleOutput) names() []string {
	var p table.Person
	return []string{p.Table().Name}
}

// parts is empty: finish writes the table again where a shard made parts.
func (o *peopleOutput) parts() []table.Parts { return nil }

func (o *peopleOutput) begin(whole bool) error {
	if whole {
		people, recordings := peopleOf(o.job.Corpus.Entries)
		columns := slices.Concat(o.job.Labels, columnsOf(features.RecordingFeatures()))
		o.sums = newPeopleSums(o.job.Config.Out, columns, o.job.Plan.Metadata(), people, recordings)
	}
	return nil
}

// open returns nothing of the part itself: a person may have recordings in
// several.
func (o *peopleOutput) open(part int) (partFile, error) {
	if o.sums == nil {
		return nil, nil
	}
	return &peopleFile{o, part == o.job.Plan.Parts()-1}, nil
}

// finish writes the table from the recordings table, unless it is complete.
func (o *peopleOutput) finish(_ context.Context, report *rundir.Report, _ workers.Progress) (err error) {
	if !o.written {
		if o.varying, err = writePeople(o.job.Config.Out, o.job.Plan.Metadata()); err != nil {
			return err
		}
	}
	report.Warnings = append(report.Warnings, o.varying...)
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
