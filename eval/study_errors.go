package eval

// StudyErrors says where the errors of a cell lie: FP + FN of the sounds that are
// scored, at the headline.
type StudyErrors struct {
	Errors          int     `json:"errors"`
	NoErrors        int     `json:"recordings_without_errors"`
	Exchanged       int     `json:"exchanged_recordings"` // that score better with S1 and S2 swapped
	ExchangedErrors Ratio   `json:"exchanged_share"`      // of the errors
	Person          string  `json:"person_with_most"`     // of equal ones the first; empty without errors
	PersonErrors    Ratio   `json:"person_share"`         // of the errors
	F1WithoutPerson Ratio   `json:"f1_without_person"`    // pooled
	EffectivePeople float64 `json:"effective_people"`     // with errors, as if each had an equal share; see effectivePeople
}

// studyErrors sums up the errors of all recordings, which make a group and of which some
// are exchanged.
func (a *Accumulator) studyErrors(g *group, exchanged []string) StudyErrors {
	class := a.rules.reported()[0]
	e := StudyErrors{Exchanged: len(exchanged), EffectivePeople: effectivePeople(g.errors())}
	isExchanged := make(map[string]bool)
	for _, id := range exchanged {
		isExchanged[id] = true
	}
	ofPerson := make([]counts, len(a.names))
	all := countsIn(g.total()).of(class)
	inExchanged := 0
	for r := range a.counted(-1) {
		n := r.headline.of(class)
		ofPerson[r.person].plus(n)
		if n.errors() == 0 {
			e.NoErrors++
		}
		if isExchanged[r.id] {
			inExchanged += n.errors()
		}
	}
	e.Errors = all.errors()
	e.ExchangedErrors = ratio(float64(inExchanged), float64(e.Errors))
	e.PersonErrors, e.F1WithoutPerson = null(), null()
	most := 0
	for r := range a.counted(-1) {
		if n := ofPerson[r.person]; n.errors() > most {
			most = n.errors()
			e.Person, e.PersonErrors = a.personOf(r), ratio(float64(most), float64(e.Errors))
			e.F1WithoutPerson = F1(all.tp-n.tp, all.fp-n.fp, all.fn-n.fn)
		}
	}
	return e
}

// errors returns the number of sounds that are not matched.
func (t counts) errors() int { return t.fp + t.fn }
