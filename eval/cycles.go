package eval

import "phonocycle/eval/tabular"

// Cycles counts whole reference cycles. Both counts are null where S1 alone is
// scored, since a cycle is S1, S2 and S1.
type Cycles struct {
	Whole *int  `json:"whole"`
	Right *int  `json:"right"` // S1, S2 and next S1 all paired, with nothing between
	Share Ratio `json:"share"`
}

// cycles adds up cycles.
type cycles struct {
	whole, right int
	s1Only       bool
}

func (*Cycles) accumulator(r *Rules) accumulator { return &cycles{s1Only: r.S1Only} }

func (c *cycles) add(_ *recording, r *Result) {
	c.whole += r.Measures.Cycles
	c.right += r.Measures.CyclesRight
}

func (c *cycles) estimate(_ *cohort, into statistic, _ func(string, ...any)) {
	s := into.(*Cycles)
	*s = Cycles{Share: null()}
	if !c.s1Only {
		*s = Cycles{new(c.whole), new(c.right), ratio(float64(c.right), float64(c.whole))}
	}
}

func (c *Cycles) tables(*basis) []tabular.Table {
	if c.Whole == nil {
		return nil
	}
	return []tabular.Table{tabular.Fill(tabular.Table{Name: "cycles", Title: "Whole cycles of the reference"}, []*Cycles{c},
		tabular.Counts("Cycles", func(c *Cycles) int { return *c.Whole }),
		tabular.Counts("All three sounds right", func(c *Cycles) int { return *c.Right }),
		tabular.Numbers("%", tabular.Percent, func(c *Cycles) Ratio { return c.Share }),
	)}
}
