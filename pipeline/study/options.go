package study

import (
	"path/filepath"
	"strings"

	"phonocycle/pipeline/config"
)

// Options say which part of a study is made, and where.
type Options struct {
	Data    string       // folder of the data sets; empty for that of the study file
	Out     string       // output folder
	Only    []string     // patterns of methods, designs and conditions; nil for all cells
	Shard   config.Shard // of several machines
	Workers int
}

// whole reports whether all cells of the study are made.
func (o *Options) whole() bool { return len(o.Only) == 0 && o.Shard.Of == 0 }

// relative returns what an error says, with paths as seen from the output folder, the
// folder of the data and that of the study file: the same study says the same of a cell
// wherever it is made.
func relative(err error, f *File, o *Options) string {
	text := err.Error()
	for _, folder := range []string{o.Out, o.Data, f.folder} {
		if folder == "" || folder == "." {
			continue
		}
		for _, form := range []string{folder, filepath.Clean(folder)} {
			text = strings.ReplaceAll(text, form+string(filepath.Separator), "")
		}
	}
	return text
}
