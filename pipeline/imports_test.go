package pipeline

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// TestImportsRunOneWay holds the order of the packages: each may import those of
// a lower storey only, and those of its own storey never, but for the few that
// are named.
func TestImportsRunOneWay(t *testing.T) {
	storeys := map[string]int{
		"configs": 0, "pipeline/pcg": 0, "pipeline/simd": 0, "pipeline/table/pages": 0, "pipeline/table/atomicfile": 0, "pipeline/printable": 0, "pipeline/matfile": 0, "pipeline/citation": 0, "pipeline/segment/option": 0, "pipeline/audio/wfdb": 0, "pipeline/cputime": 0, "pipeline/yamlcheck": 0, "pipeline/synth/noise": 0, "pipeline/npy": 0,
		"pipeline/signal": 1, "pipeline/audio": 1,
		"pipeline/segment/network": 2, "pipeline/segment/hsmm": 2, "pipeline/ecg": 2, "pipeline/synth/degrade": 2, "eval/tabular": 2,
		"pipeline/dataset": 3, "pipeline/segment": 3, "features": 3, "eval": 3, "pipeline/table": 3, "pipeline/synth": 3,
		"pipeline/segment/program": 4, "pipeline/workers": 4, "pipeline/table/export": 4, "eval/report": 4,
		"pipeline/config":  5,
		"pipeline/rundir":  6,
		"pipeline/corpus":  7,
		"pipeline/setup":   8,
		"pipeline/scoring": 8, "pipeline/degraded": 8,
		"pipeline/train": 9, "pipeline/compare": 9,
		"pipeline/choose": 10, "pipeline/source": 10, "pipeline/pages": 10, "pipeline/methods": 10,
		"pipeline":       11,
		"pipeline/study": 12, "pipeline/dictionary": 12,
		"cmd/phonocycle": 13,
	}
	// eval must stay usable without audio, methods and Parquet.
	forbidden := map[string][]string{"eval": {"pipeline/audio", "pipeline/segment", "pipeline/table"}}

	root := os.DirFS(filepath.Join(".."))
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && name != "." {
			return fs.SkipDir
		}
		if !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") || strings.HasPrefix(name, "testdata/") {
			return nil
		}
		pkg := path.Dir(name)
		own, ok := storeys[pkg]
		if !ok {
			t.Errorf("package %s has no storey: give it one here", pkg)
			return nil
		}
		content, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, content, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, imp := range file.Imports {
			target, _ := strconv.Unquote(imp.Path.Value)
			target, ours := strings.CutPrefix(target, "phonocycle/")
			if !ours {
				continue
			}
			if s, ok := storeys[target]; !ok || s >= own {
				t.Errorf("%s imports %s, which is not below it", name, target)
			}
			for _, f := range forbidden[pkg] {
				if target == f {
					t.Errorf("%s imports %s", name, target)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
