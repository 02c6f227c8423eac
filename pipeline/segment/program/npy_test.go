package program

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// Signals are written as NumPy writes them.
func TestNumPyFiles(t *testing.T) {
	content, err := os.ReadFile("../../../testdata/segment/npy.json")
	if err != nil {
		t.Fatal(err)
	}
	var check struct {
		Arrays []struct {
			N      int
			Header string
			SHA256 string
		}
	}
	if err := json.Unmarshal(content, &check); err != nil || len(check.Arrays) == 0 {
		t.Fatal("no check values", err)
	}
	var w npyWriter
	for _, want := range check.Arrays {
		x := make([]float64, want.N)
		for i := range x {
			x[i] = float64(i)/7 - 1
		}
		var b bytes.Buffer
		if err := w.write(&b, x); err != nil {
			t.Fatal(err)
		}
		if got := hex.EncodeToString(npyHeader(want.N)); got != want.Header {
			t.Errorf("%d values: header\n%s, want\n%s", want.N, got, want.Header)
		}
		if sum := sha256.Sum256(b.Bytes()); hex.EncodeToString(sum[:]) != want.SHA256 {
			t.Errorf("%d values: other bytes than NumPy's", want.N)
		}
	}
}

// A file takes the place of the one before, which a program may still have open, and
// a full disk is an error.
func TestSignalFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), signalName)
	var w npyWriter
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
	full := errors.New("no space left on device")
	if err := w.write(failing{full}, []float64{1}); err != full {
		t.Errorf("error %v", err)
	}
	if err := w.writeFile(filepath.Join(path, "below", "a file"), nil); err == nil {
		t.Error("a file was written where there is no folder")
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
