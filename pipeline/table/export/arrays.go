package export

import (
	"bufio"
	"errors"
	"fmt"
	"path/filepath"

	"phonocycle/pipeline/npy"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/table/atomicfile"
)

// Files that WriteArrays writes.
const (
	signalFile = "signal.npy"
	stateFile  = "state.npy"
	indexFile  = "index.csv"
)

// ArrayFiles are the names of the files that WriteArrays writes.
var ArrayFiles = []string{signalFile, stateFile, indexFile}

// WriteArrays writes the table windows of an output folder as arrays beside it: all
// signals (32-bit floats) and all states (bytes), one row per window, as NumPy files
// that can be mapped into memory, and in the same order the other columns as
// comma-separated values. Each file appears whole or not at all.
func WriteArrays(dir string) (err error) {
	parts := table.PartsOf[table.Window](dir)
	r, err := table.OpenParts[table.Window](parts)
	if err != nil {
		return err
	}
	a := arraysWriter{dir: dir}
	defer func() {
		for _, f := range a.files {
			err = errors.Join(err, f.Abort()) // of a file that has its name, nothing
		}
	}()
	if err := a.begin(parts.Dir, r); err != nil {
		return err
	}
	rows := 0
	for record, err := range r.Rows() {
		if err == nil {
			err = a.write(&record)
		}
		if err != nil {
			return err
		}
		rows++
	}
	return a.finish(rows)
}

// arraysWriter writes the three files side by side.
type arraysWriter struct {
	dir    string
	files  []*arrayFile // in the order of ArrayFiles
	length int          // of the vectors
	index  *csvWriter[table.Window]
	npy    npy.Writer
}

// arrayFile is a file that is being written through a buffer.
type arrayFile struct {
	*atomicfile.File
	out *bufio.Writer
}

// begin begins the files. How many rows the arrays have is not known yet: their
// headers, whose length does not depend on it, are written again at the end.
func (a *arraysWriter) begin(table string, r *table.Reader[table.Window]) error {
	cells := cellsOf(table, r)
	signal, state := cells.vectors["signal"], cells.vectors["state"]
	if signal < 1 || signal != state {
		return fmt.Errorf("%s: its windows have %d samples and %d states: want as many states as samples", table, signal, state)
	}
	a.length = signal
	for _, name := range ArrayFiles {
		f, err := atomicfile.Create(filepath.Join(a.dir, name))
		if err != nil {
			return err
		}
		a.files = append(a.files, &arrayFile{File: f, out: bufio.NewWriterSize(f, 1<<18)})
	}
	for i, header := range a.headers(0) {
		if _, err := a.files[i].out.Write(header); err != nil {
			return err
		}
	}
	var err error
	a.index, err = newCSVWriter(a.files[2].out, cells, nil, spreadsheet)
	return err
}

// headers returns those of the arrays of signals and states.
func (a *arraysWriter) headers(rows int) [2][]byte {
	return [2][]byte{npy.Header[float32](rows, a.length), npy.Header[uint8](rows, a.length)}
}

func (a *arraysWriter) write(record *table.Record[table.Window]) error {
	if err := npy.Write(a.files[0].out, &a.npy, record.Values.Vectors[0]); err != nil {
		return err
	}
	if err := npy.Write(a.files[1].out, &a.npy, record.Values.Bytes[0]); err != nil {
		return err
	}
	return a.index.write(record)
}

// finish completes the files and gives them their names.
func (a *arraysWriter) finish(rows int) error {
	if err := a.index.flush(); err != nil {
		return err
	}
	headers := a.headers(rows)
	for i, f := range a.files {
		if err := f.out.Flush(); err != nil {
			return fmt.Errorf("write %s: %w; is the disk full?", f.Path, err)
		}
		if i < len(headers) {
			if _, err := f.WriteAt(headers[i], 0); err != nil {
				return fmt.Errorf("write %s: %w", f.Path, err)
			}
		}
		if err := f.Sync(); err != nil {
			return err
		}
	}
	for _, f := range a.files {
		if err := f.Commit(); err != nil {
			return err
		}
	}
	return nil
}
