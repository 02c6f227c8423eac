package segment

import (
	"bytes"
	"encoding/json"
	"fmt"

	"phonocycle/pipeline/pcg"
)

// readParams reads the parameters of a method's model into m, strictly, and
// refuses those that cannot be used.
func readParams(method string, data []byte, m interface{ check() error }) error {
	r := json.NewDecoder(bytes.NewReader(data))
	r.DisallowUnknownFields()
	err := r.Decode(m)
	if err == nil {
		err = m.check()
	}
	if err != nil {
		return fmt.Errorf("%s: model: %w", method, err)
	}
	return nil
}

// checkPriors refuses priors of states by which a posterior cannot be divided.
func checkPriors(priors [4]float64) error {
	for j, p := range priors {
		if !(p > 0 && p < 1) {
			return fmt.Errorf("prior of %v is %g: want a share between 0 and 1", pcg.Cycle[j], p)
		}
	}
	return nil
}
