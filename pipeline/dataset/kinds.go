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

	// inAudio says that the audio file of a recording can hold the reference too.
	inAudio bool

	// check checks the keys that the kind has beside kind, paths and optional, and
	// compiles them.
	check func(c *checker, at string, p *compiledReference, fields []string)

	// read reads the reference of one recording, and returns the digest of all files
	// that it is made from.
	read func(r *references, of annotated) (pcg.Reference, []Defect, string)

	// digest returns that digest alone.
	digest func(r *references, file string) (string, error)

	// rows say how rows become a reference, where it is written in rows.
	rows rowKind
}

// rowKind is what the rows of a kind hold.
type rowKind struct {
	roles  []role // columns in their usual order
	repair func(r *repairer, rows []row) pcg.Reference
}

// inRows returns a kind that is written in rows.
func inRows(traits Traits, rows rowKind) referenceKind {
	return referenceKind{Traits: traits, check: (*checker).rows, read: (*references).readRows, digest: (*references).digestOfFile, rows: rows}
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
		roles:  []role{timeRole, stateRole},
		repair: func(r *repairer, rows []row) pcg.Reference { return pcg.Reference{Points: r.points(rows)} },
	}),
	// S1 lies within some tens of milliseconds of where the R wave has it, and the
	// onset of contraction differs between people.
	pcg.ECGReference: {
		Traits:  Traits{S1Only: true, Headline: 100 * time.Millisecond, Sweep: []time.Duration{200 * time.Millisecond}},
		inAudio: true, check: (*checker).ecg, read: (*references).readECG, digest: (*references).digestOfECG,
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
