package table

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"phonocycle/pipeline/table/atomicfile"
)

// On a file system that is really full nothing is left of the part, and the
// error names the file and the remedy.
func TestFileSystemFull(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=256k"); err != nil {
		t.Skipf("cannot mount a small file system, which needs the rights of root: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	path := filepath.Join(dir, "part-000000.parquet")
	w, err := Create[every](path, nil, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	row := everyRows()[0].Row
	for i := range 100 {
		noise := make([]byte, 8<<10)
		x := uint32(i + 1)
		for k := range noise {
			x = x*1664525 + 1013904223
			noise[k] = 'a' + byte(x>>24)%26
		}
		row.Text = string(noise)
		if err := w.Append(row, DynamicValues{}); err != nil {
			break
		}
	}
	err = w.Commit()
	if !errors.Is(err, syscall.ENOSPC) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "is the disk full?") {
		t.Errorf("error %v", err)
	}
	checkFiles(t, dir)

	if err := atomicfile.Write(filepath.Join(dir, "manifest.json"), make([]byte, 1<<20)); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("error %v", err)
	}
	checkFiles(t, dir)
}

func TestUnwritableFolder(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may write everywhere")
	}
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	_, err := Create[Score](filepath.Join(dir, "a.parquet"), nil, everyMeta)
	if !errors.Is(err, os.ErrPermission) || !strings.Contains(err.Error(), "be writable") {
		t.Errorf("error %v", err)
	}
}
