package config

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"strings"

	"phonocycle/configs"
	"phonocycle/pipeline/segment"
)

// BuiltinModel names the model that the program brings along.
const BuiltinModel = "builtin"

// maxModelBytes bounds a model file; ours have a few hundred kilobytes.
const maxModelBytes = 64 << 20

// loadModel returns the content of a model file, or of an embedded one: of that
// of the method (builtin), or by its bare name. It is nil for builtin and a
// method without parameters to fit.
func loadModel(m segment.Method, name string) ([]byte, error) {
	if name == BuiltinModel || name == "" {
		if m.Fit == nil {
			return nil, nil
		}
		if m.Digest != "" {
			return nil, fmt.Errorf("method %s is a program, for which no model is built in: fit one with fit, and name its file with --model; or cross-validate with crossval", m.Name)
		}
		name = m.Name
	}
	if m.Fit == nil {
		return nil, fmt.Errorf("method %s has no parameters to fit, and so no model: leave --model out", m.Name)
	}
	if !IsFile(name) {
		content, err := configs.FS.ReadFile(path.Join("models", name+".json"))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("no embedded model %q: have %s; a file needs its extension, as in %s.json", name, strings.Join(ModelNames(), ", "), name)
		}
		return content, err
	}
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("model: %w; name a model file that fit wrote, or an embedded model: %s", err, strings.Join(ModelNames(), ", "))
	}
	if info.Size() > maxModelBytes {
		return nil, fmt.Errorf("model %s has %d bytes, more than the %d that one can have", name, info.Size(), maxModelBytes)
	}
	return os.ReadFile(name)
}

// ModelNames returns the names of the embedded models, sorted.
func ModelNames() []string { return embeddedNames("models", ".json") }

// embeddedNames returns the names, without their extension, of the embedded
// files of a folder, sorted.
func embeddedNames(folder, extension string) []string {
	files, _ := fs.Glob(configs.FS, folder+"/*"+extension)
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(path.Base(f), extension)
	}
	return names
}
