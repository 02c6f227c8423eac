package segment

import (
	"cmp"
	"fmt"

	"phonocycle/pipeline/pcg"
)

// maxContext bounds Context: a fifth of a second, beyond which other sounds come
// into view. Weights beyond maxWeight would leave no state any doubt.
const (
	maxContext = 10
	maxWeight  = 1e6
)

// logisticModel is what fitting logistic-hsmm estimates.
type logisticModel struct {
	LogEnvelopes bool               `json:"log_envelopes"`
	KeepSpread   bool               `json:"keep_spread,omitempty"` // of the logarithms
	Context      int                `json:"context"`               // neighbours on each side
	Weights      [4][]float64       `json:"weights"`               // of each state, intercept first
	Priors       [4]float64         `json:"state_priors"`          // shares of annotated time
	Timing       *sojournRegression `json:"timing"`
	Exchange     exchangeRegression `json:"exchange"`
}

func (m *logisticModel) check() error {
	if m.Context < 0 || m.Context > maxContext {
		return fmt.Errorf("context of %d frames: want 0 to %d", m.Context, maxContext)
	}
	for j, w := range m.Weights {
		if want := 1 + width(m.Context); len(w) != want {
			return fmt.Errorf("%d weights of %v: want %d", len(w), pcg.Cycle[j], want)
		}
		for k, v := range w {
			if err := checkRanges(valueRange{fmt.Sprintf("weights[%d][%d]", j, k), v, -maxWeight, maxWeight}); err != nil {
				return err
			}
		}
	}
	if err := checkPriors(m.Priors); err != nil {
		return err
	}
	if m.Timing == nil {
		return fmt.Errorf("no sojourn distributions")
	}
	return cmp.Or(m.Timing.check(), m.Exchange.check())
}

// logisticExchange was fitted, by logistic regression on the order of the path
// (see assess), to whether a segmentation scores better with its sounds exchanged,
// on people held out in cross-validation on the CirCor recordings.
var logisticExchange = exchangeRegression{Intercept: 0.34, Slope: 29.9}
