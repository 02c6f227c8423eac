package segment

import (
	"cmp"
	"fmt"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/network"
)

// convModel is what fitting conv-hsmm estimates.
type convModel struct {
	FrontEnd network.FrontEndOptions `json:"front_end"`
	Network  *network.Network        `json:"network"`
	Priors   [4]float64              `json:"state_priors"` // shares of annotated time
	Timing   *sojournRegression      `json:"timing"`
	Exchange exchangeRegression      `json:"exchange"`
}

func (m *convModel) check() error {
	switch {
	case m.Network == nil:
		return fmt.Errorf("no network: was it fitted for another method?")
	case m.Timing == nil:
		return fmt.Errorf("no sojourn distributions")
	case m.Network.Architecture.States != len(pcg.Cycle):
		return fmt.Errorf("network of %d states: want %d", m.Network.Architecture.States, len(pcg.Cycle))
	case m.Network.Architecture.Bands != m.FrontEnd.Bank.Bands:
		return fmt.Errorf("network for %d bands behind a filter bank of %d: the model was made for other bands", m.Network.Architecture.Bands, m.FrontEnd.Bank.Bands)
	}
	if err := checkPriors(m.Priors); err != nil {
		return err
	}
	return cmp.Or(m.Timing.check(), m.Exchange.check())
}

// convExchange is a logistic regression of exchanges on margins, the mean over
// frames of the log posterior along the path less that along the exchanged one, of the
// 558 CirCor recordings, each segmented by a model of other people (10 folds):
// 12 were exchanged, and a margin was the lower in an exchanged one with
// probability 0.86.
var convExchange = exchangeRegression{Intercept: -0.15, Slope: 0.66}
