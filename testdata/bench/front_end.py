#!/usr/bin/python3
"""The front end of the envelope methods, written with SciPy, to compare the speed with.

    front_end.py [--jobs N] [--list FILE] WAV [WAV ...]

For each recording: read, resample to 1 kHz (polyphase), band-pass 25-400 Hz
(Butterworth, zero phase), remove spikes, and take four envelopes at 50 Hz
(homomorphic, Hilbert, band power 40-60 Hz, undecimated wavelet detail). Prints
as JSON the seconds of audio, the seconds of work (wall clock, without the start
of the interpreter and its imports) and their ratio.

Written from the mathematics of Schmidt et al. 2010 (doi 10.1088/0967-3334/31/4/004)
and Springer et al. 2016 (doi 10.1109/TBME.2015.2475278). Needs SciPy (Debian:
python3-scipy); measured with 1.10.1.
"""
import argparse
import json
import multiprocessing
import sys
import time
from math import gcd

import numpy as np
from scipy import signal
from scipy.fft import next_fast_len
from scipy.io import wavfile

RATE = 1000
BAND = signal.butter(2, [25, 400], "bandpass", fs=RATE, output="sos")
SMOOTH = signal.butter(1, 8, fs=RATE, output="sos")
# Decomposition low-pass of the biorthogonal spline of order 3 and its high-pass
# counterpart. Their exact coefficients do not change the run time.
HIGH = np.array([-1.0, 3.0, -3.0, 1.0]) / (4 * np.sqrt(2))
LOW = signal.firwin(20, 0.5)


def spikes(x):
    """Spike removal of Schmidt et al. 2010 on windows of 500 ms."""
    x = x.copy()
    n = RATE // 2
    windows = x[: len(x) // n * n].reshape(-1, n)
    peak = np.abs(windows).max(axis=1) if len(windows) else np.zeros(0)
    while len(peak) and (peak > 3 * np.median(peak)).any():
        w = int(peak.argmax())
        row = windows[w]
        at = int(np.abs(row).argmax())
        crossings = np.flatnonzero(np.diff(np.signbit(row)))
        left = crossings[crossings < at]
        right = crossings[crossings >= at]
        lo = left[-1] + 1 if len(left) else 0
        hi = right[0] + 1 if len(right) else n
        row[lo:hi] = 0.0001
        peak[w] = np.abs(row).max()
    return x


def at_50_hz(envelope):
    n = len(envelope) // 20 * 20
    return envelope[:n].reshape(-1, 20).mean(axis=1)


def envelopes(x):
    analytic = np.abs(signal.hilbert(x, next_fast_len(len(x))))[: len(x)]
    homomorphic = np.exp(signal.sosfiltfilt(SMOOTH, np.log(analytic + np.finfo(float).eps)))
    f, _, power = signal.spectrogram(x, RATE, window="hamming", nperseg=50, noverlap=25, nfft=1024)
    band = power[(f >= 40) & (f <= 60)].mean(axis=0)
    detail = x
    for level in range(3):
        high, low = np.zeros((len(HIGH) - 1) * 2**level + 1), np.zeros((len(LOW) - 1) * 2**level + 1)
        high[:: 2**level], low[:: 2**level] = HIGH, LOW
        wavelet = signal.oaconvolve(detail, high, mode="same")
        detail = signal.oaconvolve(detail, low, mode="same")
    frames = len(x) // 20
    rows = [at_50_hz(homomorphic), at_50_hz(analytic), np.interp(np.arange(frames), np.linspace(0, frames - 1, len(band)), band), at_50_hz(np.abs(wavelet))]
    rows = np.stack([r[:frames] for r in rows])
    return (rows - rows.mean(axis=1, keepdims=True)) / rows.std(axis=1, keepdims=True)


def process(path):
    rate, raw = wavfile.read(path)
    x = raw.astype(float) / 32768
    if x.ndim > 1:
        x = x.mean(axis=1)
    seconds = len(x) / rate
    g = gcd(rate, RATE)
    x = signal.resample_poly(x, RATE // g, rate // g)
    envelopes(spikes(signal.sosfiltfilt(BAND, x)))
    return seconds


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--list", help="file with one path per line")
    parser.add_argument("wav", nargs="*")
    args = parser.parse_args()
    paths = args.wav
    if args.list:
        with open(args.list) as f:
            paths += [line.strip() for line in f if line.strip()]
    if not paths:
        sys.exit("front_end.py: no recording given")
    process(paths[0])
    start = time.perf_counter()
    if args.jobs == 1:
        audio = sum(map(process, paths))
    else:
        with multiprocessing.Pool(args.jobs) as pool:
            audio = sum(pool.imap_unordered(process, paths, chunksize=8))
    work = time.perf_counter() - start
    print(json.dumps({"recordings": len(paths), "audio_s": round(audio, 3), "work_s": round(work, 4), "times_real_time": round(audio / work, 1)}))


if __name__ == "__main__":
    main()
