package synth

import (
	"hash/fnv"
	"math/rand/v2"
)

// stream returns the random numbers for one purpose. Each purpose draws from its
// own generator, so that adding noise does not move a beat, and a recording does
// not depend on which others were made before it.
func stream(seed uint64, purpose string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}
