package network

import "math/rand/v2"

// Random numbers are drawn from streams that are a function of the seed and of
// what they are for, never of how far a generator has come. Training that was
// interrupted therefore goes on with the numbers it would have had, and windows
// can be prepared in any order.
const (
	streamInitial = iota + 1 // initial weights
	streamSplit              // people of the validation share
	streamOrder              // order of windows in an epoch
	streamWindow             // placing and augmentation of one window
)

// stream returns the generator for item of epoch under the given purpose.
func stream(seed uint64, purpose, epoch, item int) *rand.Rand {
	return rand.New(rand.NewPCG(seed, uint64(purpose)<<56|uint64(epoch)<<32|uint64(item)))
}
