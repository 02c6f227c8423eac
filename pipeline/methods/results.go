package methods

import (
	"os"

	"phonocycle/eval"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
)

// results is a folder of results as far as a paper tells of it.
type results struct {
	plan    *rundir.Plan
	summary *eval.Summary   // nil where nothing was scored
	method  *segment.Method // nil where it is not one of this program
}

// IsResults reports whether a name is that of a folder, which holds results then.
func IsResults(name string) bool {
	info, err := os.Stat(name)
	return err == nil && info.IsDir()
}

func readResults(dir string) (*results, error) {
	folders, err := compare.Open([]string{dir}, nil, "")
	if err != nil {
		return nil, err
	}
	r := &results{plan: folders[0].Plan}
	var s eval.Summary
	scored, err := folders[0].ReadJSON(rundir.SummaryFile, &s)
	if err != nil {
		return nil, err
	}
	if scored {
		r.summary = &s
	}
	if m, err := segment.Lookup(r.plan.Config.Method); err == nil && r.plan.MethodDigest == "" {
		r.method = &m
	}
	return r, nil
}
