package dataset

import (
	"maps"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// Traits say what a reference of one kind can be used for.
type Traits struct {
	// Durations says that states have a start and an end. Else a sound is a point:
	// onsets, offsets and states over time are not known, and nothing can be fitted.
	Durations bool

	// S1Only says that S2 is not marked.
	S1Only bool

	// Headline is the tolerance at which scores are quoted, and Sweep are tolerances
	// beyond those of all references; zero and nil for none of its own.
	Headline time.Duration
	Sweep    []time.Duration
}

// TraitsOf returns the traits of a kind, none for an unknown one.
func TraitsOf(kind pcg.ReferenceKind) Traits { return referenceKinds[kind].Traits }

// referenceKind is all that one kind of reference needs: a new kind is an entry
// below.
type referenceKind struct {
	Traits

	// check checks the keys that the kind has beside kind, paths and optional, and
	// compiles them.
	check func(c *checker, at string, p *compiledReference, fields []string)

	rows   rowKind // where it is written in rows
	reader referenceReader
}

// inRows returns a kind that is written in rows.
func inRows(traits Traits, rows rowKind) referenceKind {
	return referenceKind{traits, (*checker).rows, rows, referenceReader{read: (*references).readRows, digest: (*references).digestOfFile}}
}

var referenceKinds = map[pcg.ReferenceKind]referenceKind{
	pcg.IntervalReference: inRows(Traits{Durations: true}, rowKind{
		roles:  []role{startRole, endRole, stateRole},
		repair: func(r *repairer, rows []row) pcg.Reference { return pcg.Reference{Intervals: r.intervals(rows)} },
	}),
	pcg.StateStartsReference: inRows(Traits{Durations: true}, rowKind{
		roles: []role{startRole, stateRole},
		repair: func(r *repairer, rows []row) pcg.Reference {
			return pcg.Reference{Intervals: r.intervals(r.addEnds(rows))}
		},
	}),
	pcg.PointReference: inRows(Traits{}, rowKind{
		roles:      []role{timeRole, stateRole},
		soundsOnly: true,
		repair:     func(r *repairer, rows []row) pcg.Reference { return pcg.Reference{Points: r.points(rows)} },
	}),
	// S1 lies within some tens of milliseconds of where the R wave has it, and the
	// onset of contraction differs between people.
	pcg.ECGReference: {
		Traits: Traits{S1Only: true, Headline: 100 * time.Millisecond, Sweep: []time.Duration{200 * time.Millisecond}},
		check:  (*checker).ecg, reader: referenceReader{inAudio: true, read: (*references).readECG, digest: (*references).digestOfECG},
	},
}

// newReferences returns the references below a folder that a rule describes.
func newReferences(rule *compiledReference, folder *folder) references {
	return references{rule: rule, folder: folder, reader: referenceKinds[rule.Kind].reader}
}

// kindNames lists the kinds for messages.
func kindNames() []string {
	var names []string
	for _, kind := range slices.Sorted(maps.Keys(referenceKinds)) {
		names = append(names, string(kind))
	}
	return names
}
