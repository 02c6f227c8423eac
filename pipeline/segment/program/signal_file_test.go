package program

import (
	"os"
	"path/filepath"
	"testing"
)

// A file takes the place of the one before, which a program may still have open.
func TestSignalFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), signalName)
	var w signalWriter
	if err := w.writeFile(path, []float64{1, 2}); err != nil {
		t.Fatal(err)
	}
	before, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer before.Close()
	if err := w.writeFile(path, []float64{3}); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if old, errOld := before.Stat(); err != nil || errOld != nil || old.Size() != info.Size()+8 {
		t.Errorf("the file before has %v bytes, the one after %v", old.Size(), info.Size())
	}
	if err := w.writeFile(filepath.Join(path, "below", "a file"), nil); err == nil {
		t.Error("a file was written where there is no folder")
	}
}
