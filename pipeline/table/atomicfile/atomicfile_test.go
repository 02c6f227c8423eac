package atomicfile

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// A file is replaced if it says that the program made it, and any other only
// where that is asked for.
func TestCheckReplace(t *testing.T) {
	const data = "new"
	for _, tt := range []struct {
		name, content string
		made          bool
	}{
		{"page.html", "<!DOCTYPE html>\n<html><head>\n<meta name=\"generator\" content=\"phonocycle\">", true},
		{"other.html", "<!DOCTYPE html>\n<html><head></head><p>phonocycle 0.1.0", false},
		{"model.json", `{"version": 1, "people": ["a"], "tool": "phonocycle 0.1.0"}`, true},
		{"other.json", `{"tool": "another 1"}`, false},
		{"cut.json", `{"tool": "phonocycle 0.1.0"`, false},
		{"notes.txt", "phonocycle 0.1.0", false},
		{"empty", "", false},
		{"same", data, true},
	} {
		path := filepath.Join(t.TempDir(), tt.name)
		if err := os.WriteFile(path, []byte(tt.content), 0o644); err != nil {
			t.Fatal(err)
		}
		err := CheckReplace(path, []byte(data), false)
		if (err == nil) != tt.made || err != nil && !strings.Contains(err.Error(), path) || err != nil && !strings.Contains(err.Error(), "--overwrite") {
			t.Errorf("%s: %v", tt.name, err)
		}
		if err := CheckReplace(path, []byte(data), true); err != nil {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
	if err := CheckReplace(t.TempDir(), nil, true); err == nil {
		t.Error("a folder may be replaced by a file")
	}
	if err := CheckReplace(filepath.Join(t.TempDir(), "new"), nil, false); err != nil {
		t.Error(err)
	}
}

func TestRemedy(t *testing.T) {
	if err := Remedy(syscall.EMFILE, "choose another"); !errors.Is(err, syscall.EMFILE) || strings.Contains(err.Error(), "another") || !strings.Contains(err.Error(), "ulimit -n") {
		t.Error(err)
	}
	if err := Remedy(syscall.EACCES, "choose another"); err.Error() != "permission denied; choose another" {
		t.Error(err)
	}
}

// A killed writer leaves a temporary file. The next one of the same path removes
// it, and nothing that belongs to another.
func TestWriteRemovesLeftovers(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "model.json")
	kept := []string{"model.json.txt", "other.json.ABCDEFGH.partial", "model.json.partial", "model.json.old.ABCDEFGH.partial"}
	for _, name := range append(kept, "model.json.ABCDEFGH.partial") {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := Write(path, []byte("new")); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if want := slices.Sorted(slices.Values(append(kept, "model.json"))); !slices.Equal(names, want) {
		t.Errorf("%v are there, want %v", names, want)
	}
}

// Each step that fails says which it was, and leaves no file under the name.
func TestStepsFail(t *testing.T) {
	for _, tt := range []struct {
		name string
		fail func(*File) error
		step func(*File) error
		want string
	}{
		{"sync a closed file", func(f *File) error { return f.Close() }, (*File).Sync, "sync "},
		{"commit a closed file", func(f *File) error { return f.Close() }, (*File).Commit, "close "},
		{"commit a file that was removed", func(f *File) error { return os.Remove(f.Name()) }, (*File).Commit, "rename to "},
		{"commit over a folder", func(f *File) error { return os.Mkdir(f.Path, 0o700) }, (*File).Commit, "rename to "},
	} {
		dir := t.TempDir()
		f, err := Create(filepath.Join(dir, "x.json"))
		if err != nil {
			t.Fatal(err)
		}
		if err := tt.fail(f); err != nil {
			t.Fatal(err)
		}
		if err := tt.step(f); err == nil || !strings.HasPrefix(err.Error(), tt.want+f.Path) {
			t.Errorf("%s: %v, want %s%s: …", tt.name, err, tt.want, f.Path)
		}
		if err := f.Abort(); err != nil {
			t.Errorf("%s: abort after it: %v", tt.name, err)
		}
		entries, err := os.ReadDir(dir)
		if err != nil || slices.ContainsFunc(entries, func(e os.DirEntry) bool { return !e.IsDir() }) {
			t.Errorf("%s: %v is left, %v", tt.name, entries, err)
		}
	}
}
