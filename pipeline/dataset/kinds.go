package dataset

import (
	"maps"
	"slices"

	"phonocycle/pipeline/pcg"
)

// referenceKind is all that one kind of reference annotation needs: the columns
// of a row, and how rows become a reference.
type referenceKind struct {
	roles      []role // columns in their usual order
	soundsOnly bool   // states are S1 and S2 only, and nothing gives their length
	repair     func(r *repairer, rows []row) pcg.Reference
}

var referenceKinds = map[pcg.ReferenceKind]referenceKind{
	pcg.IntervalReference: {
		roles:  []role{startRole, endRole, stateRole},
		repair: func(r *repairer, rows []row) pcg.Reference { return pcg.Reference{Intervals: r.intervals(rows)} },
	},
	pcg.StateStartsReference: {
		roles: []role{startRole, stateRole},
		repair: func(r *repairer, rows []row) pcg.Reference {
			return pcg.Reference{Intervals: r.intervals(r.addEnds(rows))}
		},
	},
	pcg.PointReference: {
		roles:      []role{timeRole, stateRole},
		soundsOnly: true,
		repair:     func(r *repairer, rows []row) pcg.Reference { return pcg.Reference{Points: r.points(rows)} },
	},
}

// kindNames lists the kinds for messages.
func kindNames() []string {
	var names []string
	for _, kind := range slices.Sorted(maps.Keys(referenceKinds)) {
		names = append(names, string(kind))
	}
	return names
}
