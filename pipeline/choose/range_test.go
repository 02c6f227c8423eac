package choose

import (
	"math"
	"testing"
)

func TestRange(t *testing.T) {
	for _, tt := range []struct {
		text, words string
		in, out     float64
	}{
		{"60-90", "60 to 90 %", 90, 90.1}, {"60-", "60 % or more", 60, 59}, {"-90", "90 % or less", 0, 91}, {"99.5-100", "99.5 to 100 %", 99.5, 99.4},
	} {
		var r Range
		if err := r.UnmarshalText([]byte(tt.text)); err != nil || r.String() != tt.text || r.words("%") != tt.words {
			t.Errorf("%s: %v, %s, %s", tt.text, err, &r, r.words("%"))
		}
		if !r.holds(tt.in) || r.holds(tt.out) || r.holds(math.NaN()) {
			t.Errorf("%s holds %v or does not hold %v", tt.text, tt.out, tt.in)
		}
	}
	var any Range
	if any.String() != "" || !any.holds(math.NaN()) {
		t.Error("a range without ends does not hold all")
	}
	for _, text := range []string{"", "-", "60", "90-60", "a-b", "60-90-100", "NaN-90"} {
		if err := any.UnmarshalText([]byte(text)); err == nil {
			t.Errorf("%q is a range %v", text, any)
		}
	}
}
