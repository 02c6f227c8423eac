package pipeline

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"

	"phonocycle/configs"
	"phonocycle/pipeline/segment"
)

// BuiltinModel names the model that the program brings along.
const BuiltinModel = "builtin"

// maxModelBytes bounds a model file; ours have a few hundred kilobytes.
const maxModelBytes = 64 << 20

// loadModel returns the content of a model file, or of the embedded one.
func loadModel(m segment.Method, name string) ([]byte, error) {
	if name == BuiltinModel || name == "" {
		content, err := configs.FS.ReadFile(path.Join("models", m.Name+".json"))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("method %s has no built-in model: name a model file with --model", m.Name)
		}
		return content, err
	}
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("model: %w; name a model file, or %s", err, BuiltinModel)
	}
	if info.Size() > maxModelBytes {
		return nil, fmt.Errorf("model %s has %d bytes, more than the %d that one can have", name, info.Size(), maxModelBytes)
	}
	return os.ReadFile(name)
}
