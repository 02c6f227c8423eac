package pipeline

import (
	"math"
	"slices"
	"strings"

	"phonocycle/pipeline/table"
)

// personSum adds up the recordings of one person.
//
// A feature of a person is the mean of that feature over the measured recordings
// of the person, each of which counts alike however long it is. A label is given
// where all recordings that have it agree.
type personSum struct {
	row     table.Person
	labels  []string
	varying []int // numbers of the labels in which recordings differ, sorted
	sites   []string
	sums    []float64
	counts  []int32
}

// add adds a recording.
func (p *personSum) add(row *table.Recording, cells table.DynamicValues) {
	if p.row.Recordings == 0 {
		p.row = table.Person{Person: row.Person, DataSet: row.DataSet, Fold: row.Fold}
		p.labels = make([]string, len(cells.Labels))
		p.sums, p.counts = make([]float64, len(cells.Floats)), make([]int32, len(cells.Floats))
	}
	p.row.Recordings++
	for k, value := range cells.Labels {
		switch {
		case value == "" || value == p.labels[k] || slices.Contains(p.varying, k):
		case p.labels[k] == "":
			p.labels[k] = value
		default:
			p.varying = append(p.varying, k)
		}
	}
	if row.Outcome != table.Done {
		return
	}
	if p.row.Measured++; p.row.Measured == 1 {
		p.row.Method, p.row.ModelDigest, p.row.SegmentationSource = row.Method, row.ModelDigest, row.SegmentationSource
		p.row.PersonInTrainingData = row.PersonInTrainingData
	}
	if row.Site != "" && !slices.Contains(p.sites, row.Site) {
		p.sites = append(p.sites, row.Site)
	}
	for k, v := range cells.Floats {
		if !math.IsNaN(v) {
			p.sums[k] += v
			p.counts[k]++
		}
	}
}

// finish returns the row of the person.
func (p *personSum) finish(labels []string) (table.Person, table.DynamicValues) {
	slices.Sort(p.sites)
	p.row.Sites = strings.Join(p.sites, "+")
	slices.Sort(p.varying)
	var names []string
	for _, k := range p.varying {
		p.labels[k] = ""
		names = append(names, labels[k])
	}
	p.row.VaryingLabels = strings.Join(names, "+")
	means := p.sums
	for k, n := range p.counts {
		means[k] /= float64(n) // 0/0 is null
	}
	return p.row, table.DynamicValues{Labels: p.labels, Floats: means}
}
