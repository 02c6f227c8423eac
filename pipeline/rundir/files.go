package rundir

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"phonocycle/pipeline/table/atomicfile"
)

// Make makes an output folder.
func Make(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("output folder %s: %w", dir, atomicfile.Remedy(err, "choose another with --out"))
	}
	return nil
}

// Paths returns the paths of names in folder dir.
func Paths(dir string, names []string) []string {
	paths := make([]string, len(names))
	for i, n := range names {
		paths[i] = filepath.Join(dir, n)
	}
	return paths
}

// Digest returns the SHA-256 of content in hexadecimal digits.
func Digest(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

// WriteJSON writes v as indented JSON. The file appears complete or not at all.
func WriteJSON(path string, v any) error {
	content, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return atomicfile.Write(path, append(content, '\n'))
}

// ReadJSON reads a file that may be missing, and reports whether it exists.
func ReadJSON(path string, v any) (found bool, err error) {
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal(content, v)
	}
	if err != nil {
		return false, fmt.Errorf("%s: %w", path, err)
	}
	return true, nil
}
