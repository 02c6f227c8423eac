#!/usr/bin/python3
"""Measures copies that phonocycle degrade makes, with SciPy. Writes measured.json beside itself.

Run: /usr/bin/python3 measure.py PROGRAM   (SciPy 1.10.1, NumPy 1.24.2)

The recording is the first of `synth --many 1 --length 60s`. Of each copy the digest of
its WAV file is kept, so that a test can tell whether the measurements are of what the
program makes today.
"""
import hashlib
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
import scipy
from scipy import signal
from scipy.io import wavfile

PROGRAM = sys.argv[1]
RECORDING = pathlib.Path("recordings/p000001_aortic.wav")


def read(path):
    rate, x = wavfile.read(path)
    return rate, x / 32768.0 if x.dtype == np.int16 else x.astype(float)


def band(x, rate):
    return signal.sosfiltfilt(signal.butter(2, [25, 400], "bandpass", fs=rate, output="sos"), x)


def snr(x, noise, rate):
    """The median power of windows of one second in the band over that of the noise."""
    y = band(x, rate)
    windows = [np.mean(y[i:i + rate] ** 2) for i in range(0, len(y) - rate + 1, rate)]
    return 10 * np.log10(np.median(windows) / np.mean(band(noise, rate) ** 2))


def slope(noise, rate):
    """Decibels per decade from 25 to 1000 Hz, of a line fitted to thirds of octaves."""
    f, p = signal.welch(noise, rate, nperseg=rate)
    edges = 25 * 2 ** (np.arange(17) / 3)
    means = [np.mean(p[(f >= a) & (f < b)]) for a, b in zip(edges, edges[1:])]
    return np.polyfit(np.log10(np.sqrt(edges[1:] * edges[:-1])), 10 * np.log10(means), 1)[0]


def measure(condition, x, rate, y, rate_y):
    if condition.startswith("noise"):
        return {"snr_db": snr(x, y - x, rate), "slope_db_per_decade": slope(y - x, rate)}
    if condition.startswith("clip"):
        level = np.max(np.abs(y))
        return {"share": np.mean(np.abs(y) == level), "other_change": np.max(np.abs(y - np.clip(x, -level, level)))}
    if condition.startswith("bits"):
        step = 2.0 ** (1 - int(condition.split("=")[1]))
        return {"step": step, "rms_error": np.sqrt(np.mean((y - x) ** 2)), "largest_error": np.max(np.abs(y - x))}
    if condition.startswith("gaps"):
        gone = (y == 0) & (x != 0)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], (y == 0).astype(int), [0]])))
        lengths = (edges[1::2] - edges[::2]) / rate
        return {"share_of_other_than_zero": np.sum(gone) / np.sum(x != 0), "gaps_of_200_ms": int(np.sum(np.abs(lengths - 0.2) < 0.002)),
                "elsewhere": float(np.max(np.abs((y - x)[y != 0])))}
    if "cut" in condition:
        kind = "highpass" if condition.startswith("low") else "lowpass"
        sos = signal.butter(2, float(condition.split("=")[1]), kind, fs=rate, output="sos")
        return {"largest_difference": np.max(np.abs(y - signal.sosfiltfilt(sos, x, padlen=rate)))}
    z = signal.resample(x, len(x) * rate_y // rate)  # whole, by one transform
    low = signal.butter(8, 150, fs=rate_y, output="sos")
    error = signal.sosfiltfilt(low, y - z)[rate_y:-rate_y]
    return {"rate_hz": rate_y, "rms_difference_below_150_hz": np.sqrt(np.mean(error ** 2))}


values = {"scipy": scipy.__version__, "numpy": np.__version__, "recording": str(RECORDING), "copies": []}
with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    run = lambda *args: subprocess.run([PROGRAM, *args], check=True, stdout=subprocess.DEVNULL, cwd=folder)
    run("synth", "--many", "1", "--length", "60s", "--out", "many")
    rate, x = read(folder / "many" / RECORDING)
    values["rms"] = float(np.sqrt(np.mean(x ** 2)))
    for condition in [
        "noise=pink,snr=5", "noise=pink,snr=-10", "noise=white,snr=0", "noise=brown,snr=20", "clip=0.01", "clip=0.1", "bits=8", "bits=10",
        "gaps=0.05,gap-length=200ms", "low-cut=40", "high-cut=150", "rate=500",
    ]:
        run("degrade", "--data", "many", "--layout", "many/many.yaml", "--condition", condition, "--out", "copy", "--overwrite")
        path = folder / "copy" / RECORDING
        rate_y, y = read(path)
        measured = {k: float(v) for k, v in measure(condition, x, rate, y, rate_y).items()}
        values["copies"].append({"condition": condition, "sha256": hashlib.sha256(path.read_bytes()).hexdigest(), "measured": measured})

out = pathlib.Path(__file__).with_name("measured.json")
out.write_text(json.dumps(values, indent=1) + "\n")
