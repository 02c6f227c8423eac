"""Check values for pipeline/synth: a damped oscillation and where it begins and ends.

The attack a and the decay tau are found here by solving numerically for an
envelope that lasts for the duration between its two crossings of 10 % of the
peak, with the peak at the given share of it; the package has a closed form.

Made with Python 3.11 and SciPy 1.10.1:

    /usr/bin/python3 damped.py

Writes damping.csv (one row a component) and damped.csv (samples of a component
at 4000 Hz that begins 12.3 ms after the first sample).
"""

import csv
import math

import numpy as np
import scipy
from scipy.optimize import brentq

LEVEL = 0.1
COMPONENTS = [  # duration in s, rise
    (0.100, 0.35),
    (0.078, 0.35),
    (0.120, 0.20),
    (0.060, 0.50),
    (0.150, 0.10),
]
RATE, AT = 4000, 0.0123
GAIN, PARTIALS = 0.3, [(40.0, 1.0), (80.0, 0.47), (160.0, 0.22)]


def envelope(t, a, tau):
    rising = 0.5 * (1 - np.cos(np.pi * t / a))
    return np.where(t <= 0, 0.0, np.where(t < a, rising, np.exp(-(t - a) / tau)))


def solve(duration, rise):
    def begins(a):
        return brentq(lambda t: float(envelope(t, a, 1.0)) - LEVEL, 1e-12, a, xtol=1e-15)

    a = brentq(lambda a: a - begins(a) - rise * duration, 1e-4, 1.0, xtol=1e-15)

    def ends(tau):
        return brentq(lambda t: float(envelope(t, a, tau)) - LEVEL, a, a + 100 * tau, xtol=1e-15)

    tau = brentq(lambda tau: ends(tau) - a - (1 - rise) * duration, 1e-4, 1.0, xtol=1e-15)
    return a, tau, begins(a)


print("scipy", scipy.__version__)
with open("damping.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["duration_s", "rise", "attack_s", "decay_s", "lead_s"])
    for duration, rise in COMPONENTS:
        w.writerow([duration, rise, *(f"{v:.12f}" for v in solve(duration, rise))])

a, tau, lead = solve(*COMPONENTS[0])
t = np.arange(800) / RATE - (AT - lead)
total = sum(share for _, share in PARTIALS)
x = sum(share * np.sin(2 * math.pi * f * t) for f, share in PARTIALS) / total
x = GAIN * envelope(t, a, tau) * x
with open("damped.csv", "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["sample"])
    w.writerows([f"{v:.12f}"] for v in x)
