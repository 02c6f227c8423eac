package ecg

import (
	"reflect"
	"testing"
)

// At 1000 samples per second the tolerance is 60 samples.
func TestAgree(t *testing.T) {
	for _, tt := range []struct {
		name          string
		first, second []int
		missing       []Span
		want          Result
		share         float64
	}{
		{name: "none"},
		{name: "one alone", first: []int{500}, want: Result{Disputed: []int{500}}},
		{name: "same", first: []int{500, 1500}, second: []int{500, 1500}, want: Result{Agreed: []int{500, 1500}}, share: 1},
		{name: "at the tolerance", first: []int{560, 1500}, second: []int{500, 1560},
			want: Result{Agreed: []int{500, 1500}}, share: 1},
		{name: "beyond it", first: []int{500, 1000, 1500, 2500}, second: []int{500, 1061, 1500, 2500},
			want: Result{Agreed: []int{500, 1500, 2500}, Disputed: []int{1000, 1061}, Unsure: []Span{{500, 1500}}}, share: 0.6},
		{name: "alone before, between and behind", first: []int{100, 1000, 2000, 3000}, second: []int{1000, 1400, 2000, 3000, 3500},
			want: Result{Agreed: []int{1000, 2000, 3000}, Disputed: []int{100, 1400, 3500}, Unsure: []Span{{1000, 2000}}}, share: 0.5},
		{name: "a long interval", first: []int{1000, 2000, 3000, 4661, 5661}, second: []int{1000, 2000, 3000, 4661, 5661},
			want: Result{Agreed: []int{1000, 2000, 3000, 4661, 5661}, Unsure: []Span{{3000, 4661}}}, share: 1},
		{name: "an interval just short enough", first: []int{1000, 2000, 3000, 4660, 5660}, second: []int{1000, 2000, 3000, 4660, 5660},
			want: Result{Agreed: []int{1000, 2000, 3000, 4660, 5660}}, share: 1},
		{name: "samples missing", first: []int{1000, 2000, 3000}, second: []int{1000, 2000, 3000}, missing: []Span{{0, 900}, {2500, 2501}, {3100, 4000}},
			want: Result{Agreed: []int{1000, 2000, 3000}, Unsure: []Span{{2000, 3000}}}, share: 1},
	} {
		got := agree(tt.first, tt.second, tt.missing, 1000)
		if !reflect.DeepEqual(got, tt.want) || got.Agreement() != tt.share {
			t.Errorf("%s: %+v with agreement %g, want %+v with %g", tt.name, got, got.Agreement(), tt.want, tt.share)
		}
	}
}
