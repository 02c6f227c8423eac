package pipeline

import (
	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/table"
)

// partTables are the files of one part of each table, under way. That of the
// recordings gets its name last: where it stands, the part is whole.
type partTables struct {
	left int // recordings that have not come yet

	recordings *table.Writer[table.Recording]
	states     *table.Writer[table.State] // these are nil where the job does not write them
	cycles     *table.Writer[table.Cycle]
	windows    *windowWriter
	scores     *scoreWriter
	others     []pendingTable // all but the recordings
}

// pendingTable is what can be done with a file after its last row.
type pendingTable interface {
	Commit() error
	Abort() error
}

// openPart creates the files of a part. On failure nothing is left behind.
func (j *job) openPart(part int, f *formats, t *tally) (_ *partTables, err error) {
	first, end := j.bounds(part)
	p := &partTables{left: end - first}
	defer func() {
		if err != nil {
			p.abort()
		}
	}()
	if p.recordings, err = createPart(j, f.recordings, part); err != nil {
		return nil, err
	}
	if f.states != nil {
		if p.states, err = createPart(j, f.states, part); err != nil {
			return nil, err
		}
		p.others = append(p.others, p.states)
	}
	if f.cycles != nil {
		if p.cycles, err = createPart(j, f.cycles, part); err != nil {
			return nil, err
		}
		p.others = append(p.others, p.cycles)
	}
	if f.windows != nil {
		if p.windows, err = newWindowWriter(j, f.windows, part); err != nil {
			return nil, err
		}
		p.others = append(p.others, p.windows)
	}
	if t != nil && t.scoring != nil {
		if p.scores, err = t.scoring.open(part); err != nil {
			return nil, err
		}
		p.others = append(p.others, p.scores)
	}
	return p, nil
}

// createPart begins a part file, in place of one that an interrupted run
// completed before the part as a whole was.
func createPart[T table.Row](j *job, f *table.Format[T], part int) (*table.Writer[T], error) {
	p := table.PartsOf[T](j.config.Out)
	if err := p.Remove(part); err != nil {
		return nil, err
	}
	return f.Create(p.Path(part))
}

// write adds the rows of the next recording, given the cells of its own row.
func (p *partTables) write(o *output, cells table.Cells) error {
	p.left--
	if err := p.recordings.Append(o.recording, cells); err != nil {
		return err
	}
	if p.states != nil {
		for _, s := range o.states {
			if err := p.states.Append(s, table.Cells{}); err != nil {
				return err
			}
		}
	}
	for _, c := range o.cycles {
		if err := p.cycles.Append(c.row, table.Cells{Labels: o.labels, Floats: c.values}); err != nil {
			return err
		}
	}
	if p.windows != nil {
		if err := p.windows.write(&o.excerpts, o.labels); err != nil {
			return err
		}
	}
	if p.scores == nil {
		return nil
	}
	if o.scored.err != nil {
		return o.scored.err
	}
	return p.scores.write(&o.scored.of, &o.scored.result)
}

// commit completes the files and calls beside. The files are encoded and synced
// side by side; that of the recordings gets its name when all others have theirs
// and beside has succeeded. On failure no unfinished file is left behind.
func (p *partTables) commit(beside func() error) error {
	var tables errgroup.Group
	tables.Go(p.recordings.Seal)
	for _, t := range p.others {
		tables.Go(t.Commit)
	}
	tables.Go(beside)
	err := tables.Wait()
	if err == nil {
		err = p.recordings.Commit()
	}
	if err != nil {
		p.abort()
	}
	return err
}

// abort removes the files that are not complete.
func (p *partTables) abort() {
	if p.recordings != nil {
		_ = p.recordings.Abort()
	}
	for _, t := range p.others {
		_ = t.Abort()
	}
}
