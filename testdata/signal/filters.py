#!/usr/bin/python3
"""Check values for pipeline/signal from SciPy. Writes filters.json beside itself.

Run: /usr/bin/python3 filters.py   (SciPy 1.10.1, NumPy 1.24.2)
"""
import json
import pathlib

import numpy as np
import scipy
from scipy import signal

FS = 1000.0


def burst(n):
    """A fixed signal without random numbers: two decaying tones and a slope."""
    t = np.arange(n) / FS
    x = np.sin(2 * np.pi * 50 * t) * np.exp(-((t - 0.15) / 0.04) ** 2)
    x += 0.5 * np.sin(2 * np.pi * 120 * t + 1) * np.exp(-((t - 0.32) / 0.02) ** 2)
    return x + 0.2 + 0.1 * t


designs = [
    ("bandpass", 2, [25, 400]), ("bandpass", 3, [40, 60]), ("bandpass", 1, [10, 450]),
    ("bandpass", 4, [30, 200]), ("lowpass", 1, [8]), ("lowpass", 5, [180]),
]
x = burst(500)
values = {
    "scipy": scipy.__version__, "numpy": np.__version__, "fs": FS, "x": list(x), "filters": [],
}
frequencies = [0.5, 10, 25, 50, 90, 180, 400, 490]
for kind, order, edges in designs:
    sos = signal.butter(order, edges if len(edges) > 1 else edges[0], kind, fs=FS, output="sos")
    _, h = signal.sosfreqz(sos, worN=frequencies, fs=FS)
    ntaps = 2 * len(sos) + 1
    # Long extension, as in this project; the default one of SciPy is shorter.
    radius = max(abs(p) for s in sos for p in np.roots(np.trim_zeros(s[3:], "b")))
    pad = min(int(np.ceil(np.log(1e-3) / np.log(radius))), len(x) - 1)
    values["filters"].append({
        "kind": kind, "order": order, "edges": edges,
        "frequencies": frequencies, "re": list(h.real), "im": list(h.imag),
        "forward": list(signal.sosfilt(sos, x)),
        "padding": pad,
        "zero_phase": list(signal.sosfiltfilt(sos, x, padtype="odd", padlen=pad)),
    })

# The analytic signal with the same mirrored extension, which fades by half a
# period of a cosine; zeros follow to 1536, the least length from 500 + 2·500 on
# that is eight times a power of two, or three times one.
fade = (1 + np.cos(np.pi * (np.arange(500) + 0.5) / 500)) / 2
extended = np.concatenate([(fade * x)[::-1], x, fade * x[::-1], np.zeros(36)])
analytic = signal.hilbert(extended)[500:1000]
values["quadrature"] = list(analytic.imag)
values["envelope"] = list(np.abs(analytic))

b, a = signal.butter(1, 8, fs=FS)
radius = -a[1]
pad = int(np.ceil(np.log(1e-3) / np.log(radius)))
values["homomorphic_8_hz"] = list(np.exp(signal.filtfilt(b, a, np.log(np.abs(analytic)), padtype="odd", padlen=pad)))

out = pathlib.Path(__file__).with_name("filters.json")
out.write_text(json.dumps(values, indent=None) + "\n")
