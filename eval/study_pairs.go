package eval

// StudyPair compares two methods of a column on the audio as it is, as [Compare] does:
// p is adjusted over all pairs of the column. The differences are of the class of the
// headline.
type StudyPair struct {
	Column string `json:"column"`
	Pair
}

// addPairs adds the pairs of the methods of a column.
func (b *studyBuilder) addPairs(runs []StudyRun, groups []*group) {
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
		return
	}
	for _, p := range b.differences.pairs(plain, of, at, plain[0].Results.rules.reported()[:1]) {
		for i := range p.Differences {
			p.Differences[i].Intervals = nil
		}
		b.Pairs = append(b.Pairs, StudyPair{runs[0].Column, p})
	}
}
