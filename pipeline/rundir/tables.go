package rundir

import (
	"fmt"

	"phonocycle/pipeline/table"
)

// OpenTables returns the plan of an output folder with the tables recordings and
// states. It makes sure that all parts are there, and that the parts of one
// number were made together.
func OpenTables(dir string) (*Plan, error) {
	plan, err := ReadPlan(dir)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: name a folder that run, segment, crossval or score --predictions wrote", dir, PlanFile)
	}
	states := table.PartsOf[table.State](dir)
	for _, parts := range []table.Parts{table.PartsOf[table.Recording](dir), states} {
		missing, err := parts.FirstMissing(plan.Parts())
		if err != nil {
			return nil, err
		}
		if missing < plan.Parts() {
			return nil, fmt.Errorf("%s is missing: complete the run with --resume", parts.Path(missing))
		}
	}
	for part := range plan.Parts() {
		if err := table.CheckSiblings(dir, part, states); err != nil {
			return nil, err
		}
	}
	return plan, nil
}
