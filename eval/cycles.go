package eval

import "phonocycle/eval/tabular"

// Cycles counts whole reference cycles.
type Cycles struct {
	Whole int   `json:"whole"`
	Right int   `json:"right"` // S1, S2 and next S1 all paired, with nothing between
	Share Ratio `json:"share"`
}

func (*Cycles) accumulator(*Rules) accumulator { return new(Cycles) }

func (c *Cycles) add(_ *recording, r *Result) {
	c.Whole += r.Measures.Cycles
	c.Right += r.Measures.CyclesRight
}

func (c *Cycles) estimate(_ *cohort, into statistic, _ func(string, ...any)) {
	*into.(*Cycles) = Cycles{c.Whole, c.Right, ratio(float64(c.Right), float64(c.Whole))}
}

func (c *Cycles) tables(*basis) []tabular.Table {
	return []tabular.Table{tabular.Fill(tabular.Table{Name: "cycles", Title: "Whole cycles of the reference"}, []*Cycles{c},
		tabular.Counts("Cycles", func(c *Cycles) int { return c.Whole }),
		tabular.Counts("All three sounds right", func(c *Cycles) int { return c.Right }),
		tabular.Numbers("%", tabular.Percent, func(c *Cycles) Ratio { return c.Share }),
	)}
}
