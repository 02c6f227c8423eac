package pipeline

import (
	"fmt"

	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/table"
)

// partWriter writes the results, which come in order, into the parts of all
// outputs. A part is committed while the next one is filled, so that nobody
// waits for the disk. One commit runs at a time, so that no part is whole before
// the one that precedes it.
type partWriter struct {
	job        *job
	whole      bool  // all parts are written, none was there before
	parts      []int // that have not begun
	incomplete int   // parts that are not whole

	part       *openPart  // being filled
	committing chan error // tells how the commit of the part before ended; nil where none is running
}

// openPart is one part of all outputs.
type openPart struct {
	left       int        // recordings that have not come yet
	files      []partFile // by output; nil for an output without
	recordings *partTableFile[table.Recording]
}

// begin prepares the outputs and the first part.
func (w *partWriter) begin() (err error) {
	for _, o := range w.job.outputs {
		if err := o.begin(w.whole); err != nil {
			return err
		}
	}
	if w.job.Config.Shard.Of == 0 { // other shards may be writing there
		if err := w.job.removeTemporary(); err != nil {
			return err
		}
	}
	return w.open()
}

// open begins the next part, if there is one. A part without recordings, as of an
// empty data set, is written at once.
func (w *partWriter) open() error {
	if len(w.parts) == 0 {
		return nil
	}
	number := w.parts[0]
	first, end := w.job.bounds(number)
	part := &openPart{left: end - first}
	for _, o := range w.job.outputs {
		f, err := o.open(number)
		if err != nil {
			part.abort()
			return err
		}
		part.files = append(part.files, f)
	}
	part.recordings = part.files[0].(*partTableFile[table.Recording])
	w.part, w.parts = part, w.parts[1:]
	if part.left == 0 {
		return w.commit()
	}
	return nil
}

// write writes the next result and commits the part with its last.
func (w *partWriter) write(r *result) error {
	if len(w.committing) > 0 {
		if err := w.waitCommit(); err != nil {
			return err
		}
	}
	for i, f := range w.part.files {
		if f == nil {
			continue
		}
		if err := f.append(r, r.values[i]); err != nil {
			return err
		}
	}
	w.part.left--
	if w.part.left > 0 {
		return nil
	}
	return w.commit()
}

// commit begins to commit the part that is full, and opens the next.
func (w *partWriter) commit() error {
	if err := w.waitCommit(); err != nil {
		return err
	}
	part, done := w.part, make(chan error, 1)
	w.part, w.committing = nil, done
	go func() { done <- part.commit() }()
	return w.open()
}

// waitCommit waits for the commit that is running, if one is.
func (w *partWriter) waitCommit() error {
	if w.committing == nil {
		return nil
	}
	err := <-w.committing
	w.committing = nil
	if err == nil {
		w.incomplete--
	}
	return err
}

// abort removes what was begun.
func (w *partWriter) abort() {
	if w.part != nil {
		w.part.abort()
	}
	for _, o := range w.job.outputs {
		o.abort()
	}
}

// commit completes the files of a part. They are encoded and written to disk side
// by side. That of the recordings names the digests of its siblings, so that it
// is sealed after them, and it gets its name last: where it stands, the part is
// whole. On failure no unfinished file is left behind.
func (p *openPart) commit() error {
	err := p.each(p.files, func(f partFile) error {
		if f == p.files[0] {
			return p.recordings.Flush()
		}
		return f.Seal()
	})
	for _, f := range p.files[1:] {
		if s, ok := f.(sibling); ok && err == nil {
			err = s.addTo(p.recordings)
		}
	}
	if err == nil {
		err = p.recordings.Seal()
	}
	if err == nil {
		err = p.each(p.files[1:], partFile.Commit)
	}
	if err == nil {
		err = p.recordings.Commit()
	}
	if err != nil {
		p.abort()
	}
	return err
}

// each calls do for all files side by side.
func (p *openPart) each(files []partFile, do func(partFile) error) error {
	var group errgroup.Group
	for _, f := range files {
		if f != nil {
			group.Go(func() error { return do(f) })
		}
	}
	return group.Wait()
}

// abort removes the files that are not complete.
func (p *openPart) abort() {
	for _, f := range p.files {
		if f != nil {
			_ = f.Abort()
		}
	}
}

// partTables returns the tables that are written part by part, that of the
// recordings first.
func (j *job) partTables() []table.Parts {
	var tables []table.Parts
	for _, o := range j.outputs {
		tables = append(tables, o.parts()...)
	}
	return tables
}

// missingFiles returns the files of a part that are not there.
func (j *job) missingFiles(part int) (missing []string, err error) {
	for _, p := range j.partTables() {
		there, err := p.Exists(part)
		if err != nil {
			return nil, fmt.Errorf("output folder %s: %w", j.Config.Out, err)
		}
		if !there {
			missing = append(missing, p.Path(part))
		}
	}
	return missing, nil
}

// checkPart makes sure that the files of a part are as they were written and were
// made together, by the plan of the folder.
func (j *job) checkPart(part int) error {
	tables := j.partTables()
	for _, p := range tables[1:] {
		if err := table.Verify(p.Path(part)); err != nil {
			return err
		}
	}
	path := tables[0].Path(part)
	r, err := table.Open[table.Recording](path)
	if err != nil {
		return err
	}
	if got := r.Metadata().Config; got != j.Plan.Digest {
		return fmt.Errorf("%s was made by another plan (digest %.12s, not %.12s): remove it, and repeat the run of its shard or run --resume", path, got, j.Plan.Digest)
	}
	return table.CheckSiblings(j.Config.Out, part, tables[1:]...)
}

// removeTemporary removes what killed runs left unfinished, among the parts and
// beside them.
func (j *job) removeTemporary() error {
	for _, f := range append(j.partTables(), table.Parts{Dir: j.Config.Out}) {
		if _, err := f.RemoveTemporary(); err != nil {
			return err
		}
	}
	return nil
}
