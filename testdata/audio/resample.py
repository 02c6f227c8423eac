#!/usr/bin/env python3
"""Makes resample.json: check values for pipeline/audio from SciPy and NumPy.

Run in this folder: /usr/bin/python3 resample.py > resample.json

window: kaiser_beta and kaiserord of scipy.signal, i0 of scipy.special.

resampled: a fixed noise of values (s >> 16) / 32768 - 1, where
s <- (1103515245 s + 12345) mod 2^32 from s = 1, brought to 1 kHz.

  - method "resample_poly": scipy.signal.resample_poly with the windowed sinc of
    the package comment of pipeline/audio as its FIR filter, made here with
    numpy.sinc and scipy.special.i0. It is a polyphase implementation that
    shares no code with ours.
  - method "sum": the defining sum, y[k] = sum_n x[n] h(k from/to - n), for
    rates at which the package interpolates in a table.

In both the weights of each output are scaled to sum to 1, as the package does.
"""

import json
import math
import platform

import numpy as np
import scipy
from scipy import signal, special

TO = 1000
ATTENUATION = 100.0
BETA = signal.kaiser_beta(ATTENUATION)


def kernel(rate):
    """Returns h and its half length T, both in input samples."""
    lower = min(rate, TO) / rate
    half = (ATTENUATION - 7.95) / (2.285 * 2 * math.pi * 0.1 * lower) / 2
    cutoff = 0.45 * lower

    def h(t):
        u = np.asarray(t) / half
        w = special.i0(BETA * np.sqrt(np.clip(1 - u * u, 0, None))) / special.i0(BETA)
        return np.where(np.abs(u) < 1, 2 * cutoff * np.sinc(2 * cutoff * np.asarray(t)) * w, 0)

    return h, math.ceil(half)


def noise(n):
    x = np.empty(n)
    s = 1
    for i in range(n):
        s = (1103515245 * s + 12345) % 2**32
        x[i] = (s >> 16) / 32768 - 1
    return x


def poly(x, rate):
    g = math.gcd(rate, TO)
    up, down = TO // g, rate // g
    h, half = kernel(rate)
    m = np.arange(-half * up, half * up + 1)
    fir = h(m / up)
    for phase in range(up):
        fir[m % up == phase] /= fir[m % up == phase].sum()
    return signal.resample_poly(x, up, down, window=fir / up)


def defining_sum(x, rate):
    h, half = kernel(rate)
    y = np.zeros(-(-len(x) * TO // rate))
    for k in range(len(y)):
        n = k * rate // TO + np.arange(-half + 1, half + 1)
        w = h((k * rate - n * TO) / TO)
        w /= w.sum()
        inside = (n >= 0) & (n < len(x))
        y[k] = np.dot(w[inside], x[n[inside]])
    return y


def main():
    cases = []
    for rate, frames, f in [
        (500, 60, poly),
        (800, 90, poly),
        (2000, 240, poly),
        (4000, 480, poly),
        (4001, 480, poly),
        (11025, 1100, poly),
        (44100, 4410, poly),
        (192000, 15361, poly),
        (16001, 1600, defining_sum),
        (191999, 15361, defining_sum),
    ]:
        method = "resample_poly" if f is poly else "sum"
        cases.append({"rate": rate, "frames": frames, "method": method, "y": list(f(noise(frames), rate))})
    z = [0.0, 0.5, 1.0, 5.0, BETA, 20.0]
    print(json.dumps({
        "versions": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__},
        "window": {
            "attenuation_db": ATTENUATION,
            "beta": BETA,
            "ord_width": 0.05,
            "ord_length": signal.kaiserord(ATTENUATION, 0.05)[0],
            "i0": [[v, special.i0(v)] for v in z],
        },
        "resampled": cases,
    }, indent=1))


main()
