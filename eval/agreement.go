package eval

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
)

// Agreement compares a quantity measured from the reference and from the
// prediction in the same recordings: the mean difference, predicted minus
// reference, and the limits between which 95 % of differences lie if they are
// normal,
//
//	d̄ ± 1.96 s
//
// with s the standard deviation of the differences (Bland and Altman 1986,
// doi:10.1016/S0140-6736(86)90837-8). Intervals around bias and limits come from
// the bootstrap over people, since recordings of one person are not independent;
// those of the papers, which take them for it, stand beside them.
type Agreement struct {
	Quantity   string `json:"quantity"`
	Unit       string `json:"unit"`
	Recordings int    `json:"recordings"` // with both measurements
	People     int    `json:"people"`
	Bias       Ratio  `json:"bias"`
	SD         Ratio  `json:"sd"`
	Lower      Ratio  `json:"lower_limit"`
	Upper      Ratio  `json:"upper_limit"`

	// Recordings in the scores that are not compared: those whose reference shows
	// too few whole cycles, and of the others those whose prediction does.
	NoReference  int `json:"reference_unknown"`
	NoPrediction int `json:"predicted_unknown"`

	BiasInterval  Intervals `json:"bias_interval"`
	LowerInterval Intervals `json:"lower_limit_interval"`
	UpperInterval Intervals `json:"upper_limit_interval"`

	Independent AgreementIntervals `json:"independent"`
}

// AgreementIntervals are the intervals that Bland and Altman give around bias
// and limits of agreement. They ignore that the recordings of one person
// resemble each other.
type AgreementIntervals struct {
	Bias            Bounds `json:"bias"`
	Lower           Bounds `json:"lower_limit"`
	Upper           Bounds `json:"upper_limit"`
	IgnoresClusters bool   `json:"ignores_clusters"`
}

// limitsFactor is the normal quantile that leaves 2.5 % on each side, as the
// papers round it.
const limitsFactor = 1.96

// agreementIntervals returns the intervals around a mean of n independent normal
// differences and around its limits of agreement, by Student's distribution of n−1
// degrees of freedom and the standard errors
//
//	s √(1/n)                       of the bias
//	s √(1/n + 1.96²/(2(n−1)))      of either limit, about s √(3/n)
//
// Bland and Altman 1986 and 1999, doi:10.1177/096228029900800204.
func agreementIntervals(n int, mean, sd float64) AgreementIntervals {
	none := noBounds()
	if n < 2 {
		return AgreementIntervals{none, none, none, true}
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile((1 + confidence) / 2)
	around := func(centre, error float64) Bounds { return Bounds{Ratio(centre - t*error), Ratio(centre + t*error)} }
	ofLimit := sd * math.Sqrt(1/float64(n)+limitsFactor*limitsFactor/float64(2*(n-1)))
	return AgreementIntervals{
		Bias:            around(mean, sd/math.Sqrt(float64(n))),
		Lower:           around(mean-limitsFactor*sd, ofLimit),
		Upper:           around(mean+limitsFactor*sd, ofLimit),
		IgnoresClusters: true,
	}
}

// agreementFigures computes mean, SD and limits from the number of differences,
// their sum and the sum of their squares.
func agreementFigures(f, totals []float64) {
	n, sum, squares := totals[0], totals[1], totals[2]
	f[0], f[1], f[2], f[3] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	if n > 0 {
		f[0] = sum / n
	}
	if n > 1 {
		f[1] = math.Sqrt(max((squares-sum*sum/n)/(n-1), 0))
		f[2], f[3] = f[0]-limitsFactor*f[1], f[0]+limitsFactor*f[1]
	}
}

// agreement compares the differences found in recordings; person[i] is the
// cluster of difference[i], numbered from 0 without gaps.
func (o *Options) agreement(quantity, unit string, person []int32, difference []float64) Agreement {
	const columns = 3
	c := &clusters{columns: columns}
	for i, d := range difference {
		c.grow(int(person[i]) + 1)
		addTo(c.row(int(person[i])), []float64{1, d, d * d})
	}
	var figures [4]float64
	agreementFigures(figures[:], c.total())
	a := Agreement{
		Quantity: quantity, Unit: unit, Recordings: len(difference), People: c.people(),
		Bias: Ratio(figures[0]), SD: Ratio(figures[1]), Lower: Ratio(figures[2]), Upper: Ratio(figures[3]),
		Independent: agreementIntervals(len(difference), figures[0], figures[1]),
	}
	b := o.bootstrap(c, len(figures), agreementFigures)
	a.BiasInterval, a.LowerInterval, a.UpperInterval = b[0], b[2], b[3]
	return a
}

// Rates compares heart rate and, where S2 is scored, systole.
type Rates []Agreement

// rates holds the recordings in which both sides show a heart rate and a systole,
// and counts the others.
type rates struct {
	person                    []int32
	rate, systole             []float64 // differences
	noReference, noPrediction int
	narrow                    int                   // recordings whose systole is shorter than twice the tolerance
	units                     map[string]*UnitCheck // by data set
	tolerance                 time.Duration
	s1Only                    bool // systole is not known
}

func (*Rates) accumulator(rules *Rules) accumulator {
	return &rates{tolerance: rules.Headline, s1Only: rules.S1Only, units: map[string]*UnitCheck{}}
}

func (a *rates) add(rec *recording, r *Result) {
	reference, predicted := r.Measures.Reference, r.Measures.Predicted
	set := NotStated
	if i := slices.IndexFunc(r.Strata, func(l pcg.Label) bool { return l.Name == ByDataSet }); i >= 0 {
		set = r.Strata[i].Value
	}
	if a.units[set] == nil {
		a.units[set] = &UnitCheck{}
	}
	a.units[set].Add(r.ReferenceEnd, r.Length, reference.Rate(), predicted.Rate())
	if s := reference.Systole; s > 0 && s < 2*a.tolerance {
		a.narrow++
	}
	switch {
	case reference.CycleLength == 0:
		a.noReference++
	case predicted.CycleLength == 0:
		a.noPrediction++
	default:
		a.person = append(a.person, rec.person)
		a.rate = append(a.rate, float64(predicted.Rate()-reference.Rate()))
		a.systole = append(a.systole, milliseconds(predicted.Systole-reference.Systole))
	}
}

func (a *rates) estimate(c *cohort, into statistic, warn func(string, ...any)) {
	// People are numbered anew, without those of whom nothing is compared.
	row := make(map[int32]int32)
	person := make([]int32, len(a.person))
	for i, p := range a.person {
		if _, ok := row[p]; !ok {
			row[p] = int32(len(row))
		}
		person[i] = row[p]
	}
	list := Rates{c.options.agreement("heart rate", "bpm", person, a.rate)}
	if !a.s1Only {
		list = append(list, c.options.agreement("systole, from S1 to S2", "ms", person, a.systole))
	}
	for i := range list {
		list[i].NoReference, list[i].NoPrediction = a.noReference, a.noPrediction
	}
	*into.(*Rates) = list
	for _, set := range slices.Sorted(maps.Keys(a.units)) {
		for _, text := range a.units[set].Warnings(set, "that of the prediction") {
			warn("%s", text)
		}
	}
	if a.narrow > 0 {
		warn("the tolerance of %g ms is more than half the time from S1 to S2 in %s: an event can be nearer to a sound of the other class than to its own",
			milliseconds(a.tolerance), tabular.Plural(a.narrow, "recording", "recordings"))
	}
}

func (a *Rates) tables(b *basis) []tabular.Table {
	t := tabular.Table{Name: "agreement", Title: "Predicted minus reference in each recording, with 95 % limits of agreement"}
	if len(*a) > 0 {
		first := &(*a)[0]
		t.Note = fmt.Sprintf("%s compared. Left out: %d whose reference and %d whose prediction shows fewer than %d whole cycles. %s",
			tabular.Plural(first.Recordings, "recording", "recordings"), first.NoReference, first.NoPrediction, minBeats, b.intervalNote())
	}
	return []tabular.Table{tabular.Fill(t, *a,
		tabular.Words("Quantity", func(a Agreement) string {
			quantity, _, _ := strings.Cut(a.Quantity, ",")
			return quantity + ", " + a.Unit
		}),
		tabular.Counts("Recordings", func(a Agreement) int { return a.Recordings }).On(tabular.Hidden),
		bestIntervals("Bias", tabular.Signed, func(a *Agreement) (Ratio, *Intervals) { return a.Bias, &a.BiasInterval }),
		bestIntervals("Lower limit", tabular.Signed, func(a *Agreement) (Ratio, *Intervals) { return a.Lower, &a.LowerInterval }),
		bestIntervals("Upper limit", tabular.Signed, func(a *Agreement) (Ratio, *Intervals) { return a.Upper, &a.UpperInterval }),
	)}
}
