package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"phonocycle/pipeline/config"
)

func addOverwriteFolderFlag(set *pflag.FlagSet, overwrite *bool) {
	set.BoolVar(overwrite, "overwrite", false, "replace what an earlier call of phonocycle left in the output folder; a folder with other files is refused")
}

func addOverwriteFileFlag(set *pflag.FlagSet, overwrite *bool) {
	set.BoolVar(overwrite, "overwrite", false, "also replace files that phonocycle did not make, or that do not say so")
}

// checkOutside refuses to write below the folder of a data set.
func checkOutside(inputs []config.Input, outputs ...string) error {
	for _, in := range inputs {
		data, err := resolve(in.Data)
		if err != nil {
			return err
		}
		for _, out := range outputs {
			if out == "" {
				continue
			}
			path, err := resolve(out)
			if err != nil {
				return err
			}
			if name, err := filepath.Rel(data, path); err == nil && name != ".." && !strings.HasPrefix(name, ".."+string(filepath.Separator)) {
				return usageError{fmt.Errorf("%s lies in the folder of the data set %s, in which nothing is written: choose a place outside", out, in.Data)}
			}
		}
	}
	return nil
}

// resolve returns the absolute path without links, also of what is not there yet.
func resolve(path string) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	for rest := ""; ; {
		if real, err := filepath.EvalSymlinks(path); err == nil {
			return filepath.Join(real, rest), nil
		}
		parent := filepath.Dir(path)
		if parent == path {
			return filepath.Join(path, rest), nil
		}
		path, rest = parent, filepath.Join(filepath.Base(path), rest)
	}
}

// needEmpty refuses a folder for synthetic recordings that holds something.
func needEmpty(dir string, overwrite bool) error {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) || err == nil && (len(entries) == 0 || overwrite) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("output folder %w: give another with --out", err)
	}
	return fmt.Errorf("output folder %s is not empty: give another with --out, or --overwrite to make the same recordings again, as after an interrupt", dir)
}
