package table

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var errBroken = errors.New("input/output error")

// brokenFile is a file that can be read so many times and no more.
type brokenFile struct {
	*bytes.Reader
	left int
}

func (f *brokenFile) ReadAt(p []byte, at int64) (int, error) {
	if f.left--; f.left < 0 {
		return 0, errBroken
	}
	return f.Reader.ReadAt(p, at)
}

func (f *brokenFile) Read(p []byte) (int, error) {
	if f.left--; f.left < 0 {
		return 0, errBroken
	}
	return f.Reader.Read(p)
}

// Wherever in a file reading fails, the reader says so, and never takes the rows
// before it for all.
func TestReadingFails(t *testing.T) {
	content := small(t)
	read := func(left int) (rows int, err error) {
		d, err := newDecoder[every](&brokenFile{bytes.NewReader(content), left}, kinds{})
		for err == nil {
			var n int
			if n, err = d.load(); err != nil {
				break
			}
			for i := 0; i < n && err == nil; i++ {
				err = d.read(i)
				rows++
			}
		}
		if err == io.EOF {
			err = nil
		}
		return rows, err
	}
	whole, err := read(1 << 30)
	if err != nil || whole != 2*len(everyRows()) {
		t.Fatalf("%d rows, %v", whole, err)
	}
	for left := range 1000 {
		rows, err := read(left)
		if err == nil {
			if rows != whole {
				t.Errorf("after %d reads: %d rows of %d and no error", left, rows, whole)
			}
			if left < 10 {
				t.Errorf("the file is read %d times: none can fail", left)
			}
			return
		}
		if !strings.Contains(err.Error(), errBroken.Error()) {
			t.Errorf("after %d reads: %v, want %v", left, err, errBroken)
		}
	}
	t.Error("no end")
}

// A file that the system closes or takes away does not become a table.
func TestFileIsLost(t *testing.T) {
	for name, lose := range map[string]func(*Writer[Score]) error{
		"closed":  func(w *Writer[Score]) error { return w.pending.Close() },
		"removed": func(w *Writer[Score]) error { return os.Remove(w.pending.Name()) },
	} {
		dir := t.TempDir()
		w, err := Create[Score](filepath.Join(dir, "a.parquet"), nil, everyMeta)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Append(Score{}, DynamicValues{}); err != nil {
			t.Fatal(err)
		}
		if err := lose(w); err != nil {
			t.Fatal(err)
		}
		if err := w.Commit(); err == nil || !strings.Contains(err.Error(), "a.parquet") {
			t.Errorf("%s: error %v, want one that names the file", name, err)
		}
		if err := w.Commit(); err == nil {
			t.Errorf("%s: the second attempt says that all is well", name)
		}
		checkFiles(t, dir)
	}
}
