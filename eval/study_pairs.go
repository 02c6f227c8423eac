package eval

// StudyPair compares two methods of a column on the audio as it is, as [Compare] does:
// p is adjusted over all pairs of the column. The differences are of the class of the
// headline.
type StudyPair struct {
	Column string `json:"column"`
	Pair
}

// studyPairs returns the pairs of the methods of a column.
func (o *Options) studyPairs(runs []StudyRun, groups []*group) []StudyPair {
	var plain []Run
	var of []*group
	var at [][2]int
	for i := range runs {
		if runs[i].Condition != "" {
			continue
		}
		for k := range plain {
			at = append(at, [2]int{k, len(plain)})
		}
		plain, of = append(plain, runs[i].Run), append(of, groups[i])
	}
	if len(at) == 0 {
		return nil
	}
	var list []StudyPair
	for _, p := range o.pairs(plain, of, at, plain[0].Results.rules.reported()[:1]) {
		for i := range p.Differences {
			p.Differences[i].Intervals = nil
		}
		list = append(list, StudyPair{runs[0].Column, p})
	}
	return list
}
