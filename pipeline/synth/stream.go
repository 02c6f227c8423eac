package synth

import (
	"hash/fnv"
	"math/rand/v2"
)

// stream returns the random numbers for one purpose. Each purpose draws from its
// own generator, so that adding noise does not move a beat, and a recording does
// not depend on which others were made before it.
func stream(seed uint64, purpose string) *rand.Rand {
	return rand.New(rand.NewPCG(seed, hash(purpose)))
}

// subseed returns the seed of a named part of a set that has a seed of its own.
func subseed(seed uint64, name string) uint64 { return stream(seed, name).Uint64() }

func hash(name string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(name))
	return h.Sum64()
}
