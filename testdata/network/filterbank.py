"""Check values of the mel-like filter bank, from NumPy and SciPy alone.

Run as: python3 filterbank.py > filterbank.csv
Written with Python 3, NumPy and SciPy in the versions on the first line of
the output. Triangles are made by linear interpolation over frequency, frames
by slicing a zero-padded copy: other code than the one under test.
"""
import sys

import numpy as np
import scipy
from scipy.signal import windows

FS, BANDS, LOW, HIGH, WINDOW = 1000, 24, 15.0, 490.0, 0.064
HOP, FIRST, SAMPLES = 20, 10, 400


def mel(f):
    return 2595 * np.log10(1 + f / 700)


n = np.arange(SAMPLES)
x = (0.3 * np.sin(2 * np.pi * 60 * n / FS) * np.exp(-n / 150)
     + 0.1 * np.sin(2 * np.pi * 200.3 * n / FS + 0.4)
     + 0.01 * np.cos(0.37 * n * n))

half = round(WINDOW * FS / 2)
w = windows.hann(2 * half + 3)[1:-1]
edges = 700 * (10 ** (np.linspace(mel(LOW), mel(HIGH), BANDS + 2) / 2595) - 1)
nfft = 256
freq = np.fft.rfftfreq(nfft, 1 / FS)
triangles = np.array([np.interp(freq, edges[b:b + 3], [0, 1, 0]) for b in range(BANDS)])
triangles /= triangles.sum(axis=1, keepdims=True)

padded = np.concatenate([np.zeros(half), x, np.zeros(half)])
inside = np.concatenate([np.zeros(half), np.ones(SAMPLES), np.zeros(half)])
centres = np.arange(FIRST, SAMPLES, HOP)
print(f"# numpy {np.__version__}, scipy {scipy.__version__}: ln(E + 1e-12), a row a band, a column a frame")
energy = []
for c in centres:
    cut = slice(c, c + 2 * half + 1)
    power = np.abs(np.fft.rfft(padded[cut] * w, nfft)) ** 2 / np.sum((w * inside[cut]) ** 2)
    energy.append(triangles @ power)
np.savetxt(sys.stdout, np.log(np.array(energy).T + 1e-12), fmt="%.12g", delimiter=",")
