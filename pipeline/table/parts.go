package table

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"phonocycle/pipeline/table/atomicfile"
)

// Parts is the folder of one table's part files.
type Parts struct{ Dir string }

// PartsOf returns the folder of the table with rows of type T below root.
func PartsOf[T Row](root string) Parts {
	var row T
	return Parts{Dir: filepath.Join(root, row.Table().Name)}
}

// partName is the name of a part, as in part-000007.parquet.
const partName = "part-%06d.parquet"

// Path returns the path of part i, as in states/part-000007.parquet.
func (p Parts) Path(i int) string { return filepath.Join(p.Dir, fmt.Sprintf(partName, i)) }

// Make creates the folder and those above it, if they are missing.
func (p Parts) Make() error {
	if err := os.MkdirAll(p.Dir, 0o755); err != nil {
		return fmt.Errorf("create folder of table parts: %w", err)
	}
	return nil
}

// entries returns what is in the folder; in one that does not exist there is
// nothing.
func (p Parts) entries() ([]fs.DirEntry, error) {
	entries, err := os.ReadDir(p.Dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("list table parts: %w", err)
	}
	return entries, nil
}

// List returns the numbers of the parts that exist, in ascending order. A
// folder that does not exist has none. Other files are passed over.
func (p Parts) List() ([]int, error) {
	entries, err := p.entries()
	var parts []int
	for _, e := range entries {
		var i int
		if _, err := fmt.Sscanf(e.Name(), "part-%d", &i); err == nil && i >= 0 && e.Name() == fmt.Sprintf(partName, i) && !e.IsDir() {
			parts = append(parts, i)
		}
	}
	slices.Sort(parts)
	return parts, err
}

// Exists reports whether part i is there.
func (p Parts) Exists(i int) (bool, error) {
	_, err := os.Lstat(p.Path(i))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// FirstMissing returns the lowest number below n of a part that does not exist,
// or n if all of them do.
func (p Parts) FirstMissing(n int) (int, error) {
	parts, err := p.List()
	if err != nil {
		return 0, err
	}
	for i := range n {
		if i >= len(parts) || parts[i] != i {
			return i, nil
		}
	}
	return n, nil
}

// RemoveTemporary removes the files that an interrupted run left unfinished and
// returns their paths. It must not be called while another process writes parts
// into the same folder.
func (p Parts) RemoveTemporary() (removed []string, err error) {
	entries, err := p.entries()
	for _, e := range entries {
		path := filepath.Join(p.Dir, e.Name())
		if !strings.HasSuffix(path, atomicfile.Suffix) || !e.Type().IsRegular() {
			continue
		}
		if err := atomicfile.Remove(path); err != nil {
			return removed, fmt.Errorf("remove unfinished part: %w", err)
		}
		removed = append(removed, path)
	}
	return removed, err
}

// Remove removes part i if it is there.
func (p Parts) Remove(i int) error {
	if err := atomicfile.Remove(p.Path(i)); err != nil {
		return fmt.Errorf("remove table part: %w", err)
	}
	return nil
}

// Clear removes all parts, and the files that an interrupted run left
// unfinished.
func (p Parts) Clear() error {
	parts, err := p.List()
	if err != nil {
		return err
	}
	for _, i := range parts {
		if err := p.Remove(i); err != nil {
			return err
		}
	}
	_, err = p.RemoveTemporary()
	return err
}
