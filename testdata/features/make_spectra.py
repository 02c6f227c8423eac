#!/usr/bin/python3
"""Makes check values for the spectra and cepstra of pipeline/signal with SciPy.

Run in this directory: /usr/bin/python3 make_spectra.py
It writes spectra.json: a signal of 300 samples at 1 kHz, its periodogram on
grids of 512 and of 128 points, its Welch spectrum, the orthonormal DCT-II of its first 20 samples, and versions.
"""
import json
import platform

import numpy as np
import scipy
from scipy import fft, signal

rng = np.random.default_rng(7)
t = np.arange(300) / 1000
x = 0.3 + np.sin(2 * np.pi * 61 * t) * np.exp(-6 * t) + 0.1 * rng.standard_normal(len(t))
x = np.round(x, 6)

_, periodogram = signal.periodogram(x, 1000, window="hann", nfft=512, detrend="constant")
_, welch = signal.welch(x, 1000, window="hann", nperseg=64, noverlap=40, detrend="constant")

# Longer than the grid: the mean over the fewest segments that overlap by half and
# reach from end to end. (300 - 128) / 64 is above 2, so there are four.
starts = np.floor(np.arange(4) * (300 - 128) / 3 + 0.5).astype(int)
long = np.mean([signal.periodogram(x[s:s + 128], 1000, window="hann", detrend="constant")[1] for s in starts], axis=0)

json.dump({
    "versions": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__},
    "x": x.tolist(),
    "periodogram_512": periodogram.tolist(),
    "periodogram_128": long.tolist(),
    "welch_64_40": welch.tolist(),
    "dct_20": fft.dct(x[:20], type=2, norm="ortho").tolist(),
}, open("spectra.json", "w"), indent=0)
