package eval

import (
	"math"
	"testing"
)

// Four unequal differences of both signs, by hand: Σ = 18 ms, the sum of squares
// about the mean of 4.5 ms is 939 ms², quantiles lie between order statistics at
// (n − 1) q (type 7 of Hyndman and Fan 1996, doi 10.1080/00031305.1996.10473566).
func TestSpreadByHand(t *testing.T) {
	var d deltas
	for _, delta := range []float64{2, -10, 30, -4} {
		d.add(fromMilliseconds(delta))
	}
	s := d.spread("S1 onset")
	for _, tt := range []struct {
		name string
		got  Ratio
		want float64
	}{
		{"bias", s.Bias, 4.5}, {"SD", s.SD, math.Sqrt(313)},
		{"minimum", s.Min, -10}, {"5 %", s.P5, -9.1}, {"25 %", s.P25, -5.5}, {"median", s.P50, -1},
		{"75 %", s.P75, 9}, {"95 %", s.P95, 25.8}, {"maximum", s.Max, 30},
	} {
		if !(math.Abs(float64(tt.got)-tt.want) < 1e-9) {
			t.Errorf("%s is %v ms, want %v", tt.name, tt.got, tt.want)
		}
	}
	if s.N != 4 || s.Place != "S1 onset" {
		t.Errorf("%d pairs at %q", s.N, s.Place)
	}
}
