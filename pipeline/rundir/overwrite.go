package rundir

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"phonocycle/pipeline/table/atomicfile"
	"phonocycle/pipeline/table/export"
)

// ownFile are the paths, below an output folder, of the files that stages write,
// finished or not.
var ownFile = regexp.MustCompile(`^((plan|manifest|summary|scoring|cost|cost-\d+-of-\d+)\.json|(run|plan|run-\d+-of-\d+)\.lock` +
	`|(` + strings.Join(export.Tables(), "|") + `)/part-\d{6,}\.parquet` +
	`|(` + strings.ReplaceAll(strings.Join(export.ArrayFiles, "|"), ".", `\.`) + `)` +
	`|models/fold-\d+\.(json|checkpoint))(\.[A-Z0-9]+\.partial)?$`)

// Clear removes what a run left in an output folder, so that another can begin
// there. The folder must hold the plan of this program or nothing; a folder with
// files that no stage writes is refused, and then nothing is removed. The caller
// holds the lock of the folder, whose file stays.
func Clear(dir string) error {
	own, foreign, err := contents(dir)
	if err != nil {
		return fmt.Errorf("output folder %s: %w", dir, err)
	}
	if n := len(foreign); n > 0 {
		const most = 5
		return fmt.Errorf("output folder %s holds %d files that phonocycle did not write (%s): move them away, or give another folder with --out",
			dir, n, strings.Join(foreign[:min(n, most)], ", "))
	}
	if len(own) > 0 && !madeHere(dir) {
		return fmt.Errorf("output folder %s has %s but no %s of phonocycle: it is not known what made it; give another folder with --out", dir, own[0], PlanFile)
	}
	// Until the plan is removed, the last, the folder can be cleared again.
	for _, name := range append(own, PlanFile, ScoringFile) {
		if err := atomicfile.Remove(filepath.Join(dir, name)); err != nil {
			return fmt.Errorf("output folder %s: %w", dir, err)
		}
	}
	return nil
}

// contents lists the files of an output folder but for its plans and locks: those
// that stages write, and all others.
func contents(dir string) (own, foreign []string, err error) {
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		name = filepath.ToSlash(name)
		switch {
		case name == PlanFile || name == ScoringFile || IsLock(name):
		case d.Type().IsRegular() && ownFile.MatchString(name):
			own = append(own, name)
		default:
			foreign = append(foreign, name)
		}
		return err
	})
	return own, foreign, err
}

// madeHere reports whether a folder has a plan that says that this program, of
// whatever version, wrote it.
func madeHere(dir string) bool {
	for _, name := range []string{PlanFile, ScoringFile} {
		var p struct {
			Tool string `json:"tool"`
		}
		content, err := os.ReadFile(filepath.Join(dir, name))
		if err == nil && json.Unmarshal(content, &p) == nil && strings.HasPrefix(p.Tool, atomicfile.Program+" ") {
			return true
		}
	}
	return false
}

// CheckScoring refuses to write the tables and the summary of a scoring into a
// folder that has such files and does not say what made them.
func CheckScoring(dir string, overwrite bool) error {
	if overwrite || madeHere(dir) {
		return nil
	}
	for _, pattern := range []string{SummaryFile, "matches/part-*", "scores/part-*"} {
		found, err := filepath.Glob(filepath.Join(escapeGlob(dir), filepath.FromSlash(pattern)))
		if err != nil {
			return fmt.Errorf("output folder %s: %w", dir, err)
		}
		if len(found) > 0 {
			return fmt.Errorf("output folder %s has %s but neither %s nor %s: it is not known what made it, or its scoring was interrupted; give --overwrite to replace it, or another folder with --out",
				dir, filepath.Base(found[0]), PlanFile, ScoringFile)
		}
	}
	return nil
}
