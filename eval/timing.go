package eval

import (
	"math"
	"time"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// Spread describes the time differences Δ, predicted minus reference, at one
// place of a sound, in milliseconds, over the pairs of the headline. Quantiles
// are those of a histogram with bins of 0.25 ms and so are exact to half a bin
// within ±500 ms.
type Spread struct {
	Place string `json:"place"`                   // such as "S1 onset"
	Also  string `json:"other_side_of,omitempty"` // the boundary as the neighbouring state has it, such as "diastole end"
	N     int    `json:"n"`
	Bias  Ratio  `json:"bias_ms"` // mean
	SD    Ratio  `json:"sd_ms"`   // with n − 1; null for fewer than two
	Min   Ratio  `json:"min_ms"`
	P5    Ratio  `json:"p5_ms"`
	P25   Ratio  `json:"p25_ms"`
	P50   Ratio  `json:"median_ms"`
	P75   Ratio  `json:"p75_ms"`
	P95   Ratio  `json:"p95_ms"`
	Max   Ratio  `json:"max_ms"`
}

const (
	deltaReach = 500 * time.Millisecond
	deltaBins  = int(2*deltaReach/deltaBin) + 1
)

// deltas accumulates time differences in memory that does not grow.
type deltas struct {
	n        int
	sum      time.Duration
	squares  float64 // s²
	min, max time.Duration
	bins     [deltaBins]int32 // centred on multiples of deltaBin
}

func (d *deltas) add(delta time.Duration) {
	if d.n == 0 {
		d.min, d.max = delta, delta
	}
	d.n++
	d.sum += delta
	d.squares += delta.Seconds() * delta.Seconds()
	d.min, d.max = min(d.min, delta), max(d.max, delta)
	bin := (min(max(delta, -deltaReach), deltaReach) + deltaReach + deltaBin/2) / deltaBin
	d.bins[bin]++
}

// spread describes what was added.
func (d *deltas) spread(place string) Spread {
	s := Spread{Place: place, N: d.n}
	s.Bias = ratio(milliseconds(d.sum), float64(d.n))
	s.SD = null()
	if d.n > 1 {
		mean := d.sum.Seconds() / float64(d.n)
		variance := (d.squares - float64(d.n)*mean*mean) / float64(d.n-1)
		s.SD = Ratio(1000 * math.Sqrt(max(variance, 0)))
	}
	s.Min, s.Max = null(), null()
	if d.n > 0 {
		s.Min, s.Max = Ratio(milliseconds(d.min)), Ratio(milliseconds(d.max))
	}
	s.P5, s.P25, s.P50, s.P75, s.P95 = d.quantile(0.05), d.quantile(0.25), d.quantile(0.5), d.quantile(0.75), d.quantile(0.95)
	return s
}

// quantile returns a quantile in milliseconds, never beyond the extremes.
func (d *deltas) quantile(q float64) Ratio {
	if d.n == 0 {
		return null()
	}
	at := func(k int) float64 {
		seen := 0
		for bin, n := range d.bins {
			if seen += int(n); seen > k {
				t := time.Duration(bin)*deltaBin - deltaReach
				return milliseconds(min(max(t, d.min), d.max))
			}
		}
		return milliseconds(d.max)
	}
	return Ratio(signal.QuantileAt(d.n, at, q))
}

// Timing lists the places in the order of the cycle. The four boundaries are
// those of all four states, since each ends where the next begins. They are left
// out where all recordings have points, and S2 where it is not scored.
type Timing []Spread

// Place returns the row of a place, or nil.
func (t Timing) Place(name string) *Spread {
	for i := range t {
		if t[i].Place == name {
			return &t[i]
		}
	}
	return nil
}

// timing accumulates the differences at the anchor and the boundaries of the
// two sounds. Since states follow each other, the onset of S1 is also the end
// of diastole, its offset the onset of systole, and so on.
type timing struct {
	anchor, onset, offset [classes]deltas
	scored                []Class
	boundaries            bool // some recording has them
}

func (*Timing) accumulator(r *Rules) accumulator { return &timing{scored: r.scored()} }

// add adds the reference rows that are true positives.
func (t *timing) add(_ *recording, r *Result) {
	t.boundaries = t.boundaries || !r.CentreOnly
	for i := range r.Matches {
		m := &r.Matches[i]
		if m.Source != FromReference || m.Outcome != TruePositive {
			continue
		}
		t.anchor[m.Class].add(m.Delta)
		if m.HasOnset {
			t.onset[m.Class].add(m.OnsetDelta)
		}
		if m.HasOffset {
			t.offset[m.Class].add(m.OffsetDelta)
		}
	}
}

func (t *timing) estimate(c *cohort, into statistic, _ func(string, ...any)) {
	var list Timing
	for _, class := range t.scored {
		if !t.boundaries {
			break
		}
		state := [classes]pcg.State{pcg.S1, pcg.S2}[class]
		onset, offset := t.onset[class].spread(class.String()+" onset"), t.offset[class].spread(class.String()+" offset")
		onset.Also, offset.Also = state.Next().Exchanged().String()+" end", state.Next().String()+" start"
		list = append(list, onset, offset)
	}
	// An anchor at an onset or offset differs from the boundary above: it counts
	// sounds at the end of an annotation too.
	for _, class := range t.scored {
		list = append(list, t.anchor[class].spread(class.String()+" anchor ("+c.rules.Anchor.String()+")"))
	}
	*into.(*Timing) = list
}

func (t *Timing) tables(*basis) []tabular.Table {
	quantile := func(name string, of func(Spread) Ratio) tabular.Field[Spread] {
		return tabular.Numbers(name, tabular.Signed.In("ms"), of)
	}
	return []tabular.Table{tabular.Fill(tabular.Table{Name: "timing", Title: "Predicted minus reference time, ms"}, *t,
		tabular.Words("Place", func(s Spread) string { return s.Place }),
		tabular.Counts("Pairs", func(s Spread) int { return s.N }),
		quantile("Bias", func(s Spread) Ratio { return s.Bias }),
		tabular.Numbers("SD", tabular.Tenths.In("ms"), func(s Spread) Ratio { return s.SD }),
		quantile("5 %", func(s Spread) Ratio { return s.P5 }).CSV("p5"),
		quantile("25 %", func(s Spread) Ratio { return s.P25 }).CSV("p25"),
		quantile("Median", func(s Spread) Ratio { return s.P50 }),
		quantile("75 %", func(s Spread) Ratio { return s.P75 }).CSV("p75"),
		quantile("95 %", func(s Spread) Ratio { return s.P95 }).CSV("p95"),
	)}
}
