package methods

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"phonocycle/eval"
	"phonocycle/eval/tabular"
	"phonocycle/pipeline/rundir"
)

// Paragraph returns a paragraph for the methods section of a paper: how the results in a
// folder came about, in sentences, from the plan and the summary of the folder alone.
func Paragraph(dir string) (string, error) {
	r, err := readResults(dir)
	if err != nil {
		return "", err
	}
	return r.paragraph()
}

func (r *results) paragraph() (string, error) {
	options, err := r.options()
	if err != nil {
		return "", err
	}
	sentences := []string{r.segmentation(), options, r.departures(), r.fit()}
	for i := range r.plan.DataSets {
		sentences = append(sentences, r.dataSet(&r.plan.DataSets[i]))
	}
	sentences = append(sentences, r.subset())
	if r.summary == nil {
		sentences = append(sentences, "The segmentation was not scored.")
	} else {
		sentences = append(sentences, r.counts(), r.rules(), r.intervals())
	}
	sentences = append(sentences, fmt.Sprintf("The digest of the plan is %.12s.", r.plan.Digest))
	return strings.Join(strings.Fields(strings.Join(sentences, " ")), " "), nil
}

// segmentation names the method, or says that another program made the states.
func (r *results) segmentation() string {
	p := r.plan
	if p.Config.Method == "" || p.Origin == eval.MadeElsewhere {
		by := "another program"
		if p.Config.Method != "" {
			by += " (" + p.Config.Method + ")"
		}
		return fmt.Sprintf("The segmentation was made by %s and read by %s.", by, p.Tool)
	}
	parts := []string{p.MethodTitle}
	if r.method != nil {
		parts = []string{r.method.Title, r.method.Paper.Short()}
	}
	text := fmt.Sprintf("The recordings were segmented by the method %s", p.Config.Method)
	if in := strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), "; "); in != "" {
		text += " (" + in + ")"
	}
	if p.MethodDigest != "" {
		return text + fmt.Sprintf(", a program with the digest %.12s that %s ran.", p.MethodDigest, p.Tool)
	}
	text += " of " + p.Tool
	if p.Config.Title != "" {
		text += fmt.Sprintf(", configured as %q", p.Config.Title)
	}
	return text + "."
}

// options says which options differ from their defaults, and which from the paper.
func (r *results) options() (string, error) {
	if r.method == nil {
		return given("options", r.plan.Options) + given("fit options", r.plan.FitOptions), nil
	}
	list, err := describe(r.method.Defaults(), r.plan.Options)
	if err != nil {
		return "", fmt.Errorf("options of the plan: %w", err)
	}
	if r.plan.FitOptions != nil {
		fit, err := describe(r.method.FitDefaults(), r.plan.FitOptions)
		if err != nil {
			return "", fmt.Errorf("fit options of the plan: %w", err)
		}
		list = append(list, fit...)
	}
	var changed, departing []string
	recalled, known := false, false
	for _, o := range list {
		known = known || o.known
		what := strings.TrimSpace(fmt.Sprintf("the %s, %s = %s %s", o.name(), o.Key, plain(o.Value), o.Unit))
		switch {
		case o.Differs:
			departing = append(departing, fmt.Sprintf("%s (in the paper %v)", what, o.Paper))
			recalled = recalled || o.Memory
		case !o.known && string(o.Value) != string(o.Default):
			changed = append(changed, fmt.Sprintf("%s (by default %s)", what, plain(o.Default)))
		}
	}
	paper, which := r.method.Paper.Short(), "All options"
	if known {
		which += " for which the paper gives no value"
	}
	text := which + " had the default values of the program"
	if len(changed) > 0 {
		text += ", but for these: " + strings.Join(changed, "; ")
	}
	text += "."
	switch {
	case !known:
		return text, nil
	case len(departing) == 0:
		return text + fmt.Sprintf(" All options for which %s gives a value had this value.", paper), nil
	}
	text += fmt.Sprintf(" These options departed from %s: %s.", paper, strings.Join(departing, "; "))
	if recalled {
		text += " (These values of the paper are from memory: check them against the print.)"
	}
	return text, nil
}

// departures says where the other differences from the paper are listed.
func (r *results) departures() string {
	if r.method == nil || len(r.method.Differs) == 0 {
		return ""
	}
	return fmt.Sprintf("The command phonocycle methods %s lists where the implementation departs from the paper otherwise.", r.method.Name)
}

// name is what an option is, in short and with a small letter.
func (o *Option) name() string {
	text, _, _ := strings.Cut(o.Meaning, ":")
	text, _, _ = strings.Cut(text, ";")
	text = strings.TrimSpace(text)
	letters := []rune(text)
	if len(letters) > 1 && unicode.IsLower(letters[1]) {
		letters[0] = unicode.ToLower(letters[0])
	}
	return string(letters)
}

// given lists the options of a method that is not described here.
func given(what string, values json.RawMessage) string {
	keys, of, err := object(values)
	if err != nil || len(keys) == 0 {
		return ""
	}
	var list []string
	for _, k := range keys {
		list = append(list, k+" = "+plain(of[k]))
	}
	return fmt.Sprintf("Its %s were %s. ", what, strings.Join(list, ", "))
}

// fit says on whom the method was fitted.
func (r *results) fit() string {
	v := r.plan.Provenance()
	reference := ""
	if v.FitReference != "" {
		reference = fmt.Sprintf(" The models were fitted to the reference %s.", v.FitReference)
	}
	switch v.Origin {
	case eval.CrossValidated:
		text := fmt.Sprintf("It was cross-validated: the people were split into %d folds (seed %d), and each recording was segmented by a model that was fitted to people of the other folds only", v.Folds, v.FoldSeed)
		if v.MostPeople > 0 {
			text += fmt.Sprintf(", %d people at most", v.MostPeople)
		}
		return text + "." + reference
	case eval.FittedElsewhere, eval.FittedOnThese:
		t := v.TrainedOn
		text := fmt.Sprintf("Its parameters were fitted beforehand to %s of %s of the %s.",
			tabular.Plural(t.Recordings, "recording", "recordings"), tabular.Plural(t.People, "person", "people"), t.DataSet)
		if v.LeftOut > 0 {
			text += fmt.Sprintf(" The data hold %s of them, left out of the scores.", tabular.Plural(v.LeftOut, "person", "people"))
		}
		if v.Trained > 0 {
			text += fmt.Sprintf(" The data hold %s of them, who were scored: the scores say little about other people.", tabular.Plural(v.Trained, "person", "people"))
		}
		return text + reference
	case eval.NotFitted:
		return "It has no fitted parameters."
	case eval.MadeElsewhere:
		if v.Declared == "" {
			return "On whom that program was fitted is not declared."
		}
		return "That program is " + strings.TrimPrefix(v.Short(), "made elsewhere, ") + "."
	}
	return ""
}

// dataSet says what the data are.
func (r *results) dataSet(s *rundir.DataSet) string {
	title := s.Title
	if title == "" {
		title = s.Name
	}
	text := "The data were the " + title
	if s.Version != "" && s.Version != notStated {
		text += ", version " + s.Version
	}
	var works []string
	for _, w := range s.Publications {
		works = append(works, w.Short())
	}
	if len(works) > 0 {
		text += " (" + strings.Join(works, "; ") + ")"
	}
	return text + ": " + tabular.Plural(s.Recordings, "recording", "recordings") + "."
}

// subset says to whom the data were restricted, and how they were changed.
func (r *results) subset() string {
	text := ""
	if len(r.plan.Selection) > 0 {
		listed := 0
		for _, s := range r.plan.DataSets {
			listed += s.Listed
		}
		var lists []string
		for _, s := range r.plan.Selection {
			lists = append(lists, fmt.Sprintf("the %s of the list %v", s.Of, s))
		}
		text = fmt.Sprintf("They are a part of the %s there are: %s.", tabular.Plural(listed, "recording", "recordings"), strings.Join(lists, ", and of these "))
	}
	if c := r.plan.Provenance().Condition; c != "" {
		text += " The audio was changed before segmentation: " + c + "."
	}
	return text
}

// counts says how many recordings are behind the scores.
func (r *results) counts() string {
	c := r.summary.Counts
	text := fmt.Sprintf("Of %s, %d of %s entered the scores.", tabular.Plural(c.In, "recording", "recordings"), c.Scored+c.Failed, tabular.Plural(c.People, "person", "people"))
	text += fmt.Sprintf(" The method gave no segmentation for %d of them", c.Failed)
	if c.Failed > 0 {
		text += "; all their reference sounds count as missed"
	}
	text += "."
	if c.Unnamed > 0 {
		text += fmt.Sprintf(" The data do not name the person of %s; each was taken for a person.", tabular.Plural(c.Unnamed, "recording", "recordings"))
	}
	if c.Excluded > 0 {
		text += " Recordings left out of the scores:"
		for i, reason := range c.ByReason {
			text += fmt.Sprintf("%s %s (%d)", []string{"", ","}[min(i, 1)], reason.Reason, reason.Count)
		}
		text += "."
	}
	return text
}

// rules says what counts as right.
func (r *results) rules() string {
	s := r.summary.Rules
	text := ""
	if s.Reference != "" {
		text = fmt.Sprintf("The scores are against the reference %q of the data. ", s.Reference)
	}
	sound := "S1 or S2"
	if s.S1Only() {
		sound = "S1"
		text += "Only S1 was scored. "
	}
	return text + fmt.Sprintf("A predicted %s was right if its %v lay within %g ms (inclusive) of that of a reference sound of the same kind. "+
		"Predicted and reference sounds were matched one to one, as many as possible and then with the least total distance. "+
		"Time without annotation was not scored, and a reference sound that is cut by the start or end of its recording was never a miss.",
		sound, s.Anchor, s.HeadlineMS)
}

// intervals says how means and their uncertainty were computed.
func (r *results) intervals() string {
	s := r.summary
	return fmt.Sprintf("Recall, precision and F1 were pooled over sounds, and averaged over recordings and over people. "+
		"Confidence intervals (%g %%) come from a bootstrap over people (BCa, %d resamples, seed %d).", 100*s.Confidence, s.Resamples, s.Seed)
}
