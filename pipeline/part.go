package pipeline

import (
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
	left  int        // recordings that have not come yet
	files []partFile // by output; nil for an output without
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
// by side. That of the recordings gets its name last: where it stands, the part
// is whole. On failure no unfinished file is left behind.
func (p *openPart) commit() error {
	err := p.each(p.files, partFile.Seal)
	if err == nil {
		err = p.each(p.files[1:], partFile.Commit)
	}
	if err == nil {
		err = p.files[0].Commit()
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

// removeTemporary removes what killed runs left unfinished, among the parts and
// beside them.
func (j *job) removeTemporary() error {
	folders := []table.Parts{{Dir: j.Config.Out}}
	for _, o := range j.outputs {
		folders = append(folders, o.parts()...)
	}
	for _, f := range folders {
		if _, err := f.RemoveTemporary(); err != nil {
			return err
		}
	}
	return nil
}
