package features

import "strings"

// notation is the page that the printed dictionary begins with: what the symbols of
// the definitions stand for, exactly enough to compute every feature anew. The
// script testdata/features/make_reference.py does so with SciPy.
var notation = strings.ReplaceAll(`## Notation

Times of the states are whole nanoseconds. A state from start to end holds the samples from ⌊start · rate + ½⌋ up to, and
without, ⌊end · rate + ½⌋ of a signal, as far as the signal has them. Sums and means over a state run over these n samples,
numbered from k = 0. A mean without a divisor named divides by the number of values; SD with (n − 1) says so.
The i-th of m equal parts of a state holds its samples from ⌊(i − 1) n/m⌋ up to, and without, ⌊i n/m⌋.

**raw** is the chosen channel of the file, or the mean of its channels, at the rate of the file: PCM values over 2^(bits − 1).

**x** is raw at 1 kHz. With r the lower of 1000 Hz and the rate of the file, both in hertz,

    x[k] = Σ raw[n] h(k/1000 − n/rate),   h(t) = sinc(0.9 r t) I₀(β √(1 − (t/T)²))  for |t| < T, else 0

with sinc(z) = sin(πz)/(πz), β = 0.1102 (100 − 8.7), T = (100 − 7.95)/(2.285 · 2π · 0.1 r)/2 seconds. The weights of each k
are divided by their sum, as if raw went on, and raw is zero outside the recording. This keeps 0 to 0.4 r and removes what
lies above 0.5 r by 100 dB. A file of 1000 Hz passes the same filter. Where rate/1000 is M/L in lowest terms and L is greater
than 4096 r/rate, h is interpolated linearly in a table, with an error below −140 dB.

**y** and **z** are x through a Butterworth band-pass, from 25 to 400 Hz for y (low-pass prototype of order 2, so four poles) and
from 150 to 400 Hz for z (prototype of order 4, eight poles), by the bilinear transform with both edges prewarped; run
forwards and then backwards. Before that, x is extended at both ends by its point reflection, 2 x[0] − x[k] and
2 x[N−1] − x[N−1−k], by 63 samples for y and 41 for z (in which the slowest pole falls to 1/1000; N − 1 in a shorter
recording), and each of the two passes begins in the state that a long run of its first value leaves. In SciPy:
'sosfiltfilt(butter(2, [25, 400], "bandpass", fs=1000, output="sos"), x, padtype="odd", padlen=63)'.

**A** is |y + jH{y}|, H the Hilbert transform by a discrete Fourier transform. For it y is extended at both ends by its mirror
image, the first sample beside itself, of m = min(N, 512) samples weighted by (1 + cos(π(k + ½)/m))/2 from the signal
outwards, and then by zeros behind, and by one zero before where m is odd, to the least length of the form 8 · 2^i or 24 · 2^i.

**h** is the mean of A over successive 20 samples, from the first; an incomplete last frame is left out.

**v** is raw of a file of at least 2000 Hz, every q-th sample from the first, q = ⌊rate/2000⌋, after a symmetric low-pass: a sinc
with its zeros q samples apart under Blackman's window (0.42, 0.5, 0.08) of 2c + 1 samples, c = ⌈5.5 rate/(2 (rate/q − 1600))⌉,
divided by its sum; raw is zero outside. With q = 1, v is raw. Its rate is rate/q.

**P** is the one-sided power spectral density of x over one state in FS²/Hz, at f = k · 1000/1024 Hz:

    P[k] = 2 |Σ w[i] (x[i] − mean x) exp(−2πj k i/1024)|² / (1000 Σ w[i]²),   w[i] = (1 − cos(2πi/n))/2

without the factor 2 at 0 and 500 Hz.

A state of n > 1024 samples is the mean of this over m = ⌈2 (n − 1024)/1024⌉ + 1 segments of 1024 samples, each freed of its own
mean, segment i from sample ⌊i (n − 1024)/(m − 1) + ½⌋ (Welch's method with segments from end to end). So ΣP · 1000/1024 over all
bins is the mean square of the samples as weighted. **Q** is the same of v, on a grid of the least power of two of points that
lasts half a second.

**W** is Welch's estimate over the whole recording: the mean of such densities over segments of 1024 samples of x that begin 512
apart, each freed of its mean; samples behind the last whole segment are left out, and a recording of less than 1024 samples
is one segment. **V** is the same of v with segments of the grid of Q that overlap by half.

A range such as 25 ≤ f < 400 Hz takes the bins whose own frequency f lies in it: 384 bins of P and W, the first at 25.39 Hz, the last
at 399.41 Hz. A frequency below which a share of the power lies is interpolated within a bin, whose power lies evenly
from 0.488 Hz below f to 0.488 Hz above; so it can be as low as 24.9 Hz and as high as 399.9.

**d** is the detail at level l of the undecimated transform with the reverse biorthogonal spline filters of orders 3 and 9, where level 1 is
nominally 250 to 500 Hz and level 4 31.25 to 62.5 Hz. In frequency, with ω = 2πf/1000 and u = 2^(l−1) ω, x is multiplied by

    Π_{i=0..l−2} √2 cos³(2^i ω/2) · j √2 sin⁹(u/2) Σ_{n=0..5} C(5 + n, n) cos^{2n}(u/2) · exp(jω/2)

x is mirrored at its ends, the last sample beside itself. The last factor centres d[k] half a sample after x[k], since all
filters have an even length.

**Sample entropy** of n values: r is 0.2 times their SD (n in the denominator). Of all pairs among the n − 2 places where three
values in a row begin, each pair counted once, N₂ have first and second values that differ by at most r, and N₃ have the third
as well; it is ln(N₂/N₃).

**Hann window of 21 ms** (split of S2): weights (1 − cos(2π(i + 1)/22))/2, i = 0 ... 20; where it reaches beyond the state, the mean is over
the weights that lie within. A maximum is greater than the sample before it and not less than the one behind; the ends are none.

`, "'", "`")
