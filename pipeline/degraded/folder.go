package degraded

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table/atomicfile"
)

// clearFolder makes room for a copy in a folder that is new or empty, or that holds a
// copy which may be replaced. A folder with other files is refused, and then nothing is
// removed. The caller holds the lock of the folder, whose file stays.
func clearFolder(dir string, overwrite bool) error {
	names, err := filesIn(dir)
	if err != nil {
		return fmt.Errorf("output folder %s: %w", dir, err)
	}
	if len(names) == 0 {
		return nil
	}
	there := readRecord(dir)
	own := map[string]bool{dataset.CopyFile: true}
	if there != nil {
		for _, r := range there.Recordings {
			own[r.Audio] = true
		}
		for _, f := range there.Files {
			own[f.Path] = true
		}
	}
	var foreign []string
	for _, name := range names {
		if !own[name] && !own[unfinishedOf(name)] {
			foreign = append(foreign, name)
		}
	}
	switch {
	case len(foreign) > 0:
		return fmt.Errorf("output folder %s holds %d files that degrade did not write, the first is %s: choose an empty or new folder with --out",
			dir, len(foreign), foreign[0])
	case there == nil: // an unfinished record alone
	case !overwrite && there.Complete:
		return fmt.Errorf("output folder %s holds a copy changed by %v: give --overwrite to replace it, or another folder with --out", dir, there.Changes)
	case !overwrite:
		return fmt.Errorf("output folder %s holds a copy that is not complete: give --overwrite to make it again, or another folder with --out", dir)
	default:
		// From here on until the new copy is complete, nothing reads the folder.
		there.Complete = false
		if err := rundir.WriteJSON(filepath.Join(dir, dataset.CopyFile), there); err != nil {
			return err
		}
	}
	for _, name := range names {
		if name == dataset.CopyFile {
			continue
		}
		if err := atomicfile.Remove(filepath.Join(dir, filepath.FromSlash(name))); err != nil {
			return fmt.Errorf("output folder %s: %w", dir, err)
		}
	}
	return nil
}

// filesIn lists all that lies in a folder and is no folder, but for its locks.
func filesIn(dir string) (names []string, err error) {
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if name = filepath.ToSlash(name); !rundir.IsLock(name) {
			names = append(names, name)
		}
		return err
	})
	return names, err
}

// readRecord returns the record of the copy in a folder, complete or not; nil for none.
func readRecord(dir string) *dataset.Copy {
	text, err := os.ReadFile(filepath.Join(dir, dataset.CopyFile))
	if err != nil {
		return nil
	}
	c, err := dataset.ParseCopy(text)
	if err != nil {
		return nil
	}
	return c
}

// unfinishedOf returns the name that a file will have of which a killed program left a
// part under name.
func unfinishedOf(name string) string {
	name, unfinished := strings.CutSuffix(name, atomicfile.Suffix)
	if at := strings.LastIndexByte(name, '.'); unfinished && at >= 0 {
		return name[:at]
	}
	return ""
}
