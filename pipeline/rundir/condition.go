package rundir

import (
	"slices"
	"strings"

	"phonocycle/eval"
	"phonocycle/pipeline/dataset"
)

// AudioCondition says how the audio was changed before it was segmented and measured,
// empty where it was not.
func (p *Plan) AudioCondition() string {
	if p.Condition == nil {
		return p.DataCondition()
	}
	text := p.conditions(func(s *DataSet) dataset.Changes { return append(slices.Clone(s.Condition), *p.Condition) })
	if p.Origin == eval.CrossValidated {
		text += "; the models are fitted to the audio "
		if c := p.DataCondition(); c != "" {
			text += "changed by " + c
		} else {
			text += "as recorded"
		}
	}
	return text
}

// DataCondition says how the audio of the data sets was changed where they are copies,
// empty where it was not. Fits see it as it is there.
func (p *Plan) DataCondition() string {
	return p.conditions(func(s *DataSet) dataset.Changes { return s.Condition })
}

// conditions puts the changes of all data sets into words, with the name of the data set
// where they differ.
func (p *Plan) conditions(of func(*DataSet) dataset.Changes) string {
	var texts, named []string
	for i := range p.DataSets {
		text := of(&p.DataSets[i]).String()
		texts = append(texts, text)
		if text == "" {
			text = "as recorded"
		}
		named = append(named, p.DataSets[i].Name+": "+text)
	}
	if slices.ContainsFunc(texts, func(t string) bool { return t != texts[0] }) {
		return strings.Join(named, "; ")
	}
	return strings.Join(slices.Compact(texts), "")
}
