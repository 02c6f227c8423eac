package eval

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// score sets the figures and their intervals. These are about other people whose
// recordings the same models predict: no model is fitted anew. The bootstrap draws
// people with replacement within each class of a person's first recording, so that
// the sizes of the classes stay what they are.
func (d *groupedFeatures) score(r *Identifiability, probabilities *mat.Dense) {
	s := newClassScorer(d, probabilities)
	weights := ones(len(d.people))
	estimate := s.figures(weights)
	replicates := make([][]float64, len(estimate))
	strata := d.strata()
	random := rand.New(rand.NewPCG(r.Seed, 0x6c65616b))
	for range r.Resamples {
		clear(weights)
		for _, people := range strata {
			for range people {
				weights[people[random.IntN(len(people))]]++
			}
		}
		for k, v := range s.figures(weights) {
			if !math.IsNaN(v) {
				replicates[k] = append(replicates[k], v)
			}
		}
	}
	figure := func(k int) Estimate {
		slices.Sort(replicates[k])
		bounds := boundsAt(replicates[k], (1-confidence)/2, (1+confidence)/2)
		return Estimate{Ratio(estimate[k]), bounds[0], bounds[1]}
	}
	r.Accuracy, r.BalancedAccuracy, r.AUC = figure(0), figure(1), figure(2)
	for k, name := range d.classes {
		c := IdentifiedAs{Name: name, Recall: figure(3 + 2*k), AUC: figure(4 + 2*k)}
		people := map[int]bool{}
		for i, y := range d.y {
			if y == k {
				c.Recordings++
				people[d.person[i]] = true
			}
		}
		c.People = len(people)
		r.Classes = append(r.Classes, c)
		r.Largest = math.Max(r.Largest, float64(c.Recordings)/float64(len(d.y)))
	}
}

// classScorer computes figures from probabilities for any weights of people.
type classScorer struct {
	*groupedFeatures
	likeliest   []int       // class of each recording
	order       [][]int     // of each class: recordings by ascending probability
	probability [][]float64 // of each class: the probabilities of the recordings
	positive    [][]bool    // of each class: whether the recording is of it
	weight      []float64   // of recordings
}

func newClassScorer(d *groupedFeatures, probabilities *mat.Dense) *classScorer {
	s := &classScorer{groupedFeatures: d, weight: make([]float64, len(d.y))}
	for i := range d.y {
		s.likeliest = append(s.likeliest, floats.MaxIdx(probabilities.RawRowView(i)))
	}
	for k := range d.classes {
		column := mat.Col(nil, k, probabilities)
		s.probability, s.positive = append(s.probability, column), append(s.positive, d.isOf(k))
		s.order = append(s.order, ascending(column))
	}
	return s
}

// figures returns accuracy, balanced accuracy and mean area under the curve, and
// then recall and area of each class.
func (s *classScorer) figures(people []float64) []float64 {
	right, all := make([]float64, len(s.classes)), make([]float64, len(s.classes))
	for i, y := range s.y {
		w := people[s.person[i]]
		s.weight[i] = w
		all[y] += w
		if s.likeliest[i] == y {
			right[y] += w
		}
	}
	out := make([]float64, 3, 3+2*len(s.classes))
	var rights, alls float64
	for k := range s.classes {
		recall, area := right[k]/all[k], auc(s.order[k], s.probability[k], s.positive[k], s.weight)
		rights, alls = rights+right[k], alls+all[k]
		out[1] += recall / float64(len(s.classes))
		out[2] += area / float64(len(s.classes))
		out = append(out, recall, area)
	}
	out[0] = rights / alls
	return out
}

// ascending returns the indices of x in the order of their values.
func ascending(x []float64) []int {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	return order
}

// auc returns the area under the receiver operating characteristic of a score
// for telling the positive from the rest: the probability that a positive has the
// higher score, ties counting half (Hanley and McNeil 1982, doi
// 10.1148/radiology.143.1.7063747). order lists what counts, by ascending score.
func auc(order []int, score []float64, positive []bool, weight []float64) float64 {
	var area, below, positives float64
	for i := 0; i < len(order); {
		var p, n float64
		first := score[order[i]]
		for ; i < len(order) && score[order[i]] == first; i++ {
			if w := weight[order[i]]; positive[order[i]] {
				p += w
			} else {
				n += w
			}
		}
		area += p * (below + n/2)
		below += n
		positives += p
	}
	return area / (positives * below)
}

// rate returns the features that best tell a class from the others, each by
// itself, one row per feature.
func (d *groupedFeatures) rate(most int) []FeatureRating {
	weight, value := ones(len(d.y)), make([]float64, len(d.y))
	positive := make([][]bool, len(d.classes))
	for k := range d.classes {
		positive[k] = d.isOf(k)
	}
	features := make([]FeatureRating, 0, len(d.names))
	for j, name := range d.names {
		for i, row := range d.x {
			value[i] = row[j]
		}
		order := slices.DeleteFunc(ascending(value), func(i int) bool { return math.IsNaN(value[i]) })
		best := FeatureRating{Name: name, AUC: 0.5}
		for k, class := range d.classes {
			a := auc(order, value, positive[k], weight)
			if apart := max(a, 1-a); apart > best.AUC {
				best = FeatureRating{Name: name, Class: class, AUC: apart, Values: higher}
				if a < 0.5 {
					best.Values = lower
				}
			}
		}
		if best.Class != "" {
			features = append(features, best)
		}
	}
	slices.SortStableFunc(features, func(a, b FeatureRating) int {
		return cmp.Compare(b.AUC, a.AUC)
	})
	return features[:min(most, len(features))]
}
