package atomicfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
)

// Program is the name by which files say that this program made them: a page in
// its generator, JSON under the key tool, there with the version.
const Program = "phonocycle"

// CheckReplace returns an error if there is a file at path that the program may
// not have made, which [Write] would lose. A file that holds data already is no
// loss; overwrite allows any file.
func CheckReplace(path string, data []byte, overwrite bool) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("output file %w", err)
	case !info.Mode().IsRegular():
		return fmt.Errorf("output file %s is a folder or a device: choose another name", path)
	case overwrite:
		return nil
	}
	switch made, err := made(path, data); {
	case err != nil:
		return fmt.Errorf("output file %w", err)
	case !made:
		return fmt.Errorf("file %s exists, and it does not say that phonocycle made it: choose another name, or give --overwrite to replace it", path)
	}
	return nil
}

// maxCompared bounds what is read of a file, more than any file that is checked
// here has.
const maxCompared = 128 << 20

// made reports whether a file says that the program made it, or holds data.
func made(path string, data []byte) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer f.Close()
	there, err := io.ReadAll(io.LimitReader(f, maxCompared))
	if err != nil || bytes.Equal(there, data) {
		return err == nil, err
	}
	if bytes.HasPrefix(there, []byte("<!DOCTYPE html>")) {
		there = there[:min(len(there), 4096)]
		return bytes.Contains(there, []byte(`<meta name="generator" content="`+Program+`">`)), nil
	}
	var content struct {
		Tool string `json:"tool"`
	}
	return json.Unmarshal(there, &content) == nil && strings.HasPrefix(content.Tool, Program+" "), nil
}
