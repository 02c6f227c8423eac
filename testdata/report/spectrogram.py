#!/usr/bin/env python3
"""Writes spectrogram.json: short-time spectra by SciPy (Virtanen et al. 2020, doi
10.1038/s41592-019-0686-2), which the test of eval/report compares with its own.

    python3 spectrogram.py > spectrogram.json
"""

import json

import numpy as np
import scipy
from scipy.signal import spectrogram

RATE = 4000
rng = np.random.default_rng(1)
t = np.arange(800) / RATE
x = np.sin(2 * np.pi * 60 * t) * np.exp(-((t - 0.07) / 0.02) ** 2)
x += 0.2 * np.sin(2 * np.pi * 210 * t) + 0.01 * rng.standard_normal(len(t)) + 0.3
x = np.round(x, 6)

f, at, power = spectrogram(x, RATE, window="hann", nperseg=192, noverlap=144, nfft=512,
                           detrend="constant", scaling="density", mode="psd")
rows = f <= 500
print(json.dumps({
    "scipy": scipy.__version__,
    "rate": RATE,
    "samples": x.tolist(),
    "times": at.tolist(),
    "frequencies": f[rows].tolist(),
    "levels": np.round(10 * np.log10(power[rows].T), 6).tolist(),
}))
