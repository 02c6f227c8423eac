package table

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/table/atomicfile"
)

var errFull = errors.New("no room")

// fullWriter takes so many bytes and no more.
type fullWriter int

func (w *fullWriter) Write(p []byte) (int, error) {
	if len(p) > int(*w) {
		n := int(*w)
		*w = 0
		return n, errFull
	}
	*w -= fullWriter(len(p))
	return len(p), nil
}

// start begins a file with the given dynamic columns.
func start(e *encoder[every], w io.Writer, extra []Column) error {
	f, err := NewFormat[every](extra, everyMeta)
	if err == nil {
		e.start(f, w)
	}
	return err
}

// Wherever in a file the disk becomes full, the writer says so.
func TestDiskFull(t *testing.T) {
	whole := len(small(t))
	encode := func(room int) error {
		var e encoder[every]
		w := fullWriter(room)
		if err := start(&e, &w, everyExtra); err != nil {
			return err
		}
		rows := everyRows()
		rows[2].Row.MaybeText = "é"
		for _, r := range append(rows, rows...) {
			if err := e.append(r.Row, r.Values); err != nil {
				return err
			}
		}
		return e.finish()
	}
	for room := 0; room < whole; room += 61 {
		if err := encode(room); !errors.Is(err, errFull) || !strings.Contains(err.Error(), "is the disk full?") {
			t.Fatalf("room for %d of %d bytes: error %v", room, whole, err)
		}
	}
	if err := encode(whole); err != nil {
		t.Errorf("room for all: %v", err)
	}
}

// A write that fails in the middle of many row groups fails once and for all.
func TestDiskFullEarly(t *testing.T) {
	var e encoder[every]
	w := fullWriter(1 << 20)
	if err := start(&e, &w, nil); err != nil {
		t.Fatal(err)
	}
	row := everyRows()[2].Row // a row of two megabytes
	var err error
	rows := 0
	for ; err == nil && rows < 64; rows++ {
		row.MaybeText = strings.Repeat(fmt.Sprintf("%08d", rows), 1<<18)
		err = e.append(row, DynamicValues{})
	}
	if !errors.Is(err, errFull) && err != nil {
		t.Fatal(err)
	}
	if again := e.finish(); !errors.Is(again, errFull) {
		t.Errorf("after a failure with %d rows (%v), finish says %v", rows, err, again)
	}
}

func TestCreateFaults(t *testing.T) {
	dir := t.TempDir()
	existing := write(t, filepath.Join(dir, "existing.parquet"), nil, []Record[Score]{{}})
	tests := []struct {
		name, path string
		extra      []Column
		is         error
		want       string
	}{
		{"existing file", existing, nil, fs.ErrExist, "resume the run or choose another folder"},
		{"missing folder", filepath.Join(dir, "nowhere", "a.parquet"), nil, fs.ErrNotExist, "the folder must exist and be writable"},
		{"folder that is a file", filepath.Join(existing, "a.parquet"), nil, nil, "the folder must exist and be writable"},
		{"two columns of one name", filepath.Join(dir, "a.parquet"), []Column{{Name: "x"}, {Name: "x"}}, nil, `column "x" occurs twice`},
		{"column named like a field", filepath.Join(dir, "a.parquet"), []Column{{Name: "recall"}}, nil, `column "recall" occurs twice`},
		{"no name", filepath.Join(dir, "a.parquet"), []Column{{Doc: "x"}}, nil, "column 12 has no name"},
		{"full stop", filepath.Join(dir, "a.parquet"), []Column{{Name: "a.b"}}, nil, "use an underscore"},
		{"unknown kind", filepath.Join(dir, "a.parquet"), []Column{{Name: "x", Kind: 9}}, nil, "unknown kind Kind(9)"},
		{"vector of no length", filepath.Join(dir, "a.parquet"), []Column{{Name: "x", Kind: FloatVector}}, nil, "length 0 does not fit a float vector"},
		{"float of some length", filepath.Join(dir, "a.parquet"), []Column{{Name: "x", Length: 3}}, nil, "length 3 does not fit a float"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := Create[Score](test.path, test.extra, everyMeta)
			if err == nil || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), test.path) {
				t.Errorf("%v, want %s: … %s", err, test.path, test.want)
			}
			if test.is != nil && !errors.Is(err, test.is) {
				t.Errorf("%v is not %v", err, test.is)
			}
		})
	}
	checkFiles(t, dir, "existing.parquet")
}

// checkFiles sees that dir holds the files of the given names and no others.
func checkFiles(t *testing.T, dir string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	got := []string{}
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if diff := cmp.Diff(append([]string{}, want...), got); diff != "" {
		t.Errorf("files in the folder: %s", diff)
	}
}

func TestAppendFaults(t *testing.T) {
	good := everyRows()[0]
	tests := []struct {
		name  string
		spoil func(r *Record[every])
		want  string
	}{
		{"NaN", func(r *Record[every]) { r.Row.X = nan }, `column "x": NaN`},
		{"not UTF-8", func(r *Record[every]) { r.Row.Text = "\xff" }, `column "text": "\xff" is not UTF-8`},
		{"label not UTF-8", func(r *Record[every]) { r.Values.Labels[1] = "a\x80" }, `column "murmur": "a\x80" is not UTF-8`},
		{"endless string", func(r *Record[every]) { r.Row.MaybeText = strings.Repeat(" ", maxString+1) }, "a string of 67108865 bytes"},
		{"time beyond exactness", func(r *Record[every]) { r.Row.At = 1 << 51 }, `column "at_s": 625h29m59.813685248s is more than`},
		{"early time", func(r *Record[every]) { *r.Row.MaybeAt = -1 << 51 }, `column "maybe_at_s"`},
		{"too few floats", func(r *Record[every]) { r.Values.Floats = nil }, "0 values for 1 columns of kind float"},
		{"too many labels", func(r *Record[every]) { r.Values.Labels = make([]string, 4) }, "4 values for 3 columns of kind category"},
		{"no number", func(r *Record[every]) { r.Values.Labels[2] = "tall" }, `column "age": "tall" is not a number`},
		{"long vector", func(r *Record[every]) { r.Values.Vectors[0] = make([]float32, 4) }, `column "window": vector of 4 elements, want 3`},
		{"missing vector", func(r *Record[every]) { r.Values.Vectors[0] = nil }, `column "window": vector of 0 elements, want 3`},
		{"short bytes", func(r *Record[every]) { r.Values.Bytes[0] = []byte{1} }, `column "classes": vector of 1 elements, want 2`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "a.parquet")
			w, err := Create[every](path, everyExtra, everyMeta)
			if err != nil {
				t.Fatal(err)
			}
			if err := w.Append(good.Row, good.Values); err != nil {
				t.Fatal(err)
			}
			bad := Record[every]{Row: good.Row, Values: good.Values.Clone()}
			bad.Row.MaybeAt = new(*good.Row.MaybeAt)
			test.spoil(&bad)
			err = w.Append(bad.Row, bad.Values)
			if err == nil || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), path+": row 1") {
				t.Errorf("%v, want %s: row 1: %s", err, path, test.want)
			}
			// The refused row leaves no trace.
			if err := w.Append(good.Row, good.Values); err != nil {
				t.Fatal(err)
			}
			if err := w.Commit(); err != nil {
				t.Fatal(err)
			}
			r, err := Open[every](path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff([]Record[every]{good, good}, readAll(t, r)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestAbort(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.parquet")
	w, err := Create[Score](path, nil, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Append(Score{}, DynamicValues{}); err != nil {
		t.Fatal(err)
	}
	if err := w.Abort(); err != nil {
		t.Error(err)
	}
	if err := w.Abort(); err != nil {
		t.Errorf("second Abort: %v", err)
	}
	if err := w.Append(Score{}, DynamicValues{}); !errors.Is(err, fs.ErrClosed) {
		t.Errorf("Append after Abort: %v", err)
	}
	if err := w.Commit(); !errors.Is(err, fs.ErrClosed) {
		t.Errorf("Commit after Abort: %v", err)
	}
	checkFiles(t, dir)
}

// A part that another process has finished in the meantime is not overwritten.
func TestCommitFindsFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.parquet")
	w, err := Create[Score](path, nil, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("theirs"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := w.Commit(); !errors.Is(err, fs.ErrExist) {
		t.Errorf("Commit: %v", err)
	}
	if b, _ := os.ReadFile(path); string(b) != "theirs" {
		t.Errorf("the file holds %q", b)
	}
	checkFiles(t, dir, "a.parquet")
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "summary.json")
	for _, content := range []string{"{}", "", "{\"scores\": []}"} {
		if err := atomicfile.Write(path, []byte(content)); err != nil {
			t.Fatal(err)
		}
		if b, err := os.ReadFile(path); err != nil || string(b) != content {
			t.Errorf("%q, %v; want %q", b, err, content)
		}
	}
	checkFiles(t, dir, "summary.json")
	err := atomicfile.Write(filepath.Join(path, "x"), nil)
	if err == nil || !strings.Contains(err.Error(), "must exist and be writable") {
		t.Errorf("below a file: %v", err)
	}
	// A folder in the way of the new name: nothing is left behind.
	if err := os.Mkdir(filepath.Join(dir, "taken"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := atomicfile.Write(filepath.Join(dir, "taken"), []byte("x")); err == nil {
		t.Error("a folder was overwritten")
	}
	checkFiles(t, dir, "summary.json", "taken")
}

func TestReadFaults(t *testing.T) {
	dir := t.TempDir()
	score := write(t, filepath.Join(dir, "score.parquet"), nil, []Record[Score]{{}})
	newer := write(t, filepath.Join(dir, "newer.parquet"), nil, []Record[newerScore]{{}})
	text := filepath.Join(dir, "text.parquet")
	if err := os.WriteFile(text, []byte("recording,state,start_s,end_s\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	tests := []struct{ name, path, want string }{
		{"missing file", filepath.Join(dir, "none.parquet"), "no such file"},
		{"other table", score, "holds the table scores, want states"},
		{"text", text, "is it a Parquet file, whole?"},
		{"folder", dir, dir},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			n := 0
			for _, err := range Read[State](test.path) {
				n++
				if err == nil || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), test.path) {
					t.Errorf("%v, want %s: %s", err, test.path, test.want)
				}
			}
			if n != 1 {
				t.Errorf("%d errors, want 1", n)
			}
		})
	}
	if _, err := Open[Score](newer); err == nil || !strings.Contains(err.Error(), "holds version 99 of the table scores, made by phonocycle 1.2.3, and this program reads version 1") {
		t.Errorf("newer version: %v", err)
	}
	if _, err := Open[Score](); err == nil {
		t.Error("no path: no error")
	}
}

// newerScore stands for the table scores of a later version.
type newerScore struct{ Score }

func (newerScore) Table() Info { return Info{Name: "scores", Version: 99} }
