// Package network is a small convolutional network that says, for each fiftieth
// of a second of a heart-sound recording, how probable each of the four states
// of the heart cycle is. It trains on a laptop, in Go alone.
//
// # What it computes
//
// The input is a spectrogram: log energies x[b,t] of 24 mel-spaced bands at 50
// frames per second ([FrontEnd]). A first layer mixes the bands of a frame into 32
// channels, h₀ = E x + e. Residual blocks follow, one for each dilation
// d = 1, 2, 4, …, 64:
//
//	u = relu( V₋ hₗ[·,t−d] + V₀ hₗ[·,t] + V₊ hₗ[·,t+d] + v )
//	hₗ₊₁ = hₗ + U u + c
//
// Each looks twice as far as the one before, so that a few thousand weights see
// five seconds: several cycles, enough to tell by rhythm what one sound does not
// tell. The last layer reads the logits of the four states, z = O relu(h) + o,
// and p = softmax(z).
//
// Dilated convolutions: van den Oord et al. 2016, arXiv 1609.03499; as general
// models of sequences: Bai, Kolter and Koltun 2018, arXiv 1803.01271. Residual
// blocks: He, Zhang, Ren and Sun 2016, doi 10.1109/CVPR.2016.90 (all from
// memory).
//
// # How it learns
//
// [Trainer] minimises the mean cross-entropy −ln p[label] over annotated frames by
// AdamW with a learning rate that rises and then falls (schedule), on windows cut
// around what was annotated, of the recording or of a copy of it in noise, each changed
// at random in tempo, place, level and noise (augmentation). Frames without annotation
// give context and no loss.
//
// # Reproducibility
//
// Convolutions and their gradients are float32; every sum has one order, and the
// same bits on all processors (simd.SumProducts). A batch is divided by
// windows, each with a gradient of its own, added in the order of the batch;
// random numbers depend on the seed and on what they are for, not on who draws
// them. The same seed gives the same weights for any number of workers, and
// training that was interrupted and resumed gives those of training that was
// not. Across processor families the last digit of a fit may differ, since some
// fuse multiplication and addition in the augmentation, the loss and the optimiser.
package network
