package study

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"

	"phonocycle/configs"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/yamlcheck"
)

// maxFileBytes bounds a study file; those of ours have a few kilobytes.
const maxFileBytes = 256 << 10

// Names returns the names of the built-in studies, sorted.
func Names() []string {
	files, _ := fs.Glob(configs.FS, "studies/*.yaml") // fails for malformed patterns only
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(path.Base(f), ".yaml")
	}
	return names
}

// Load reads a study file, or the built-in study of that name. All that is wrong with
// it becomes one error, with a line for each that begins with file, line and column.
func Load(nameOrFile string) (*File, error) {
	if config.IsFile(nameOrFile) {
		text, err := yamlcheck.ReadFile(nameOrFile, maxFileBytes)
		if err != nil {
			return nil, fmt.Errorf("study file %s: %w", nameOrFile, err)
		}
		return parse(nameOrFile, filepath.Dir(nameOrFile), text)
	}
	text, err := configs.FS.ReadFile("studies/" + nameOrFile + ".yaml")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no built-in study %q: have %s; a file needs its extension, as in %s.yaml",
			nameOrFile, strings.Join(Names(), ", "), nameOrFile)
	}
	if err != nil {
		return nil, err
	}
	return parse(nameOrFile+".yaml", "", text)
}

// parse reads the text of a study, whose relative paths begin in a folder.
func parse(name, folder string, text []byte) (*File, error) {
	f := &File{
		Scoring: config.Scoring{Anchor: config.Default().Scoring.Anchor, Seed: config.Default().Scoring.Seed}, ConditionSeed: config.Default().ConditionSeed,
		folder: folder, digest: rundir.Digest(text),
	}
	doc, err := yamlcheck.Decode(name, text, maxFileBytes, f)
	if doc == nil {
		return nil, err
	}
	if len(f.Conditions) == 0 {
		f.Conditions = []string{Clean}
	}
	c := checker{file: f}
	c.check()
	if err := doc.Errors(c.errs); err != nil {
		return nil, err
	}
	return f, nil
}
