package eval

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

const ms = time.Millisecond

// exhaustive returns the most pairs and, among pairings of that many, the least
// total distance, by trying every one-to-one pairing, crossing ones included.
func exhaustive(reference, predicted []time.Duration, tolerance time.Duration) (pairs int, cost time.Duration) {
	if len(reference) == 0 {
		return 0, 0
	}
	pairs, cost = exhaustive(reference[1:], predicted, tolerance) // leave the first out
	for j, p := range predicted {
		d := (p - reference[0]).Abs()
		if d > tolerance {
			continue
		}
		n, c := exhaustive(reference[1:], slices.Delete(slices.Clone(predicted), j, j+1), tolerance)
		if n+1 > pairs || (n+1 == pairs && c+d < cost) {
			pairs, cost = n+1, c+d
		}
	}
	return pairs, cost
}

func randomTimes(random *rand.Rand, most int) []time.Duration {
	times := make([]time.Duration, random.IntN(most+1))
	for i := range times {
		times[i] = time.Duration(random.IntN(40))
	}
	slices.Sort(times)
	return times
}

func TestMatchIsTheBestOfAllPairings(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	var m matcher
	crowded := 0
	for range 5000 {
		reference, predicted := randomTimes(random, 6), randomTimes(random, 6)
		tolerance := time.Duration(random.IntN(15))
		wantPairs, wantCost := exhaustive(reference, predicted, tolerance)
		partner := m.match(reference, predicted, tolerance)
		gotPairs, gotCost := 0, time.Duration(0)
		last := int32(-1)
		for i, p := range partner {
			if p < 0 {
				continue
			}
			if p <= last {
				t.Fatalf("%v, %v, τ %d: partners %v are used twice or cross", reference, predicted, tolerance, partner)
			}
			last = p
			d := (predicted[p] - reference[i]).Abs()
			if d > tolerance {
				t.Fatalf("%v, %v: pair %d–%d is further apart than %d", reference, predicted, i, p, tolerance)
			}
			gotPairs++
			gotCost += d
		}
		if gotPairs != wantPairs || gotCost != wantCost {
			t.Fatalf("%v, %v, τ %d: %d pairs at %d, want %d at %d", reference, predicted, tolerance, gotPairs, gotCost, wantPairs, wantCost)
		}
		if wantPairs > 3 {
			crowded++
		}
	}
	if crowded < 100 {
		t.Errorf("only %d of the cases had more than three pairs", crowded)
	}
}

func TestMatchTakesMorePairsBeforeNearerOnes(t *testing.T) {
	// The nearest pair (100, 110) would leave 50 and 160 alone.
	var m matcher
	got := m.match([]time.Duration{100 * ms, 160 * ms}, []time.Duration{50 * ms, 110 * ms}, 50*ms)
	if !slices.Equal(got, []int32{0, 1}) {
		t.Errorf("partners %v, want both", got)
	}
}

func BenchmarkMatch(b *testing.B) {
	var reference, predicted []time.Duration
	random := rand.New(rand.NewPCG(3, 4))
	for i := range 100 {
		at := time.Duration(i) * 800 * ms
		reference = append(reference, at)
		predicted = append(predicted, at+time.Duration(random.IntN(50))*ms)
	}
	var m matcher
	b.ReportAllocs()
	for b.Loop() {
		m.match(reference, predicted, 60*ms)
	}
}
