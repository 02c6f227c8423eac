"""Finds a beat where two peaks of the envelope lie a systole apart.

The envelope is the Shannon energy of the sound, smoothed (Liang, Lukkarinen and Hartimo
1997). The length of a cycle is the lag at which the envelope is most like itself. From
S1 to S2 pass factor * sqrt(cycle) seconds; the factor is estimated from examples.
"""
import json
import sys

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import correlate, find_peaks


def envelope(x, rate):
    power = np.clip(x / np.quantile(np.abs(x), 0.999), -1, 1) ** 2
    smooth = gaussian_filter1d(-power * np.log(power + 1e-9), 0.02 * rate)
    return smooth - smooth.mean()


def cycle_length(e, rate):
    shortest, longest = int(0.4 * rate), min(int(1.4 * rate), len(e) // 2)
    likeness = correlate(e, e)[len(e) - 1:][shortest:longest]
    return (shortest + np.argmax(likeness)) / rate


def segment(request, factor):
    rate, e = request["rate"], envelope(np.load(request["signal"]), request["rate"])
    cycle = cycle_length(e, rate)
    systole, near = int(factor * np.sqrt(cycle) * rate), int(0.03 * rate)
    beats, _ = find_peaks(e[:-systole] + e[systole:], distance=0.9 * cycle * rate)
    points = []
    for beat in beats:
        for sound, guess in ("S1", beat), ("S2", beat + systole):
            first = max(0, guess - near)
            points.append([sound, (first + int(np.argmax(e[first:guess + near]))) / rate])
    return {"points": points} if points else {"error": "no beat found"}


def fit(examples):
    factors = []
    for line in open(examples + "/examples.jsonl"):
        sounds = [(s, (start + end) / 2) for s, start, end in json.loads(line)["intervals"] if s in ("S1", "S2")]
        for (a, s1), (b, s2), (c, after) in zip(sounds, sounds[1:], sounds[2:]):
            if (a, b, c) == ("S1", "S2", "S1") and after - s1 < 1.4:
                factors.append((s2 - s1) / np.sqrt(after - s1))
    return {"factor": float(np.median(factors))}


if sys.argv[1] == "fit":
    json.dump(fit(sys.argv[3]), open(sys.argv[2], "w"))
else:
    factor = json.load(open(sys.argv[2]))["factor"]
    for line in sys.stdin:
        request = json.loads(line)
        print(json.dumps({"recording": request["recording"], **segment(request, factor)}), flush=True)
