package synth

import (
	"context"
	"fmt"
	"math"
	"time"
)

// Many returns a scenario of n short recordings for trials of scale: people at
// rest of 18 to 79 years and 50 to 100 beats per minute, recorded at up to four
// sites each, in pink noise at 15 to 30 dB.
func Many(n int, length time.Duration, seed uint64) *Scenario {
	s := &Scenario{Name: "many", Title: fmt.Sprintf("%d synthetic recordings of %v", n, length), Rate: 4000}
	for made := 0; made < n; {
		id := fmt.Sprintf("p%06d", len(s.People)+1)
		rng := stream(seed, id)
		p := Person{
			ID:        id,
			Age:       adult + rng.IntN(62),
			Sex:       []Sex{Female, Male}[rng.IntN(2)],
			HeartRate: float64(50 + rng.IntN(51)),
		}
		for _, site := range Sites()[:min(4, n-made)] {
			snr := math.Round(15 + 15*rng.Float64())
			p.Recordings = append(p.Recordings, Take{Site: site, Duration: length, Noise: Pink, SNR: &snr})
			made++
		}
		s.People = append(s.People, p)
	}
	return s
}

// WriteMany writes the data set of Many to dir, as Write does.
func WriteMany(ctx context.Context, dir string, n int, length time.Duration, seed uint64) error {
	return Many(n, length, seed).Write(ctx, dir, seed)
}
