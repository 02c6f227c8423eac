"""Check values for eval from SciPy and by enumeration: writes statistics.json.

Run with Debian's SciPy: /usr/bin/python3 statistics.py > statistics.json

Data from print, from memory:
- spatial test data A, Efron and Tibshirani 1993, An Introduction to the Bootstrap, table 14.1
- peak expiratory flow, first readings with two meters, Bland and Altman 1986,
  doi:10.1016/S0140-6736(86)90837-8
"""

import itertools
import json
import sys

import numpy as np
import scipy
from scipy import stats

rng = np.random.default_rng(20240601)

SPATIAL = [48, 36, 20, 29, 42, 42, 20, 42, 22, 41, 45, 14, 6, 0, 33, 28, 34, 4, 32, 24, 47, 41, 24, 26, 30, 41]
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def enumerated(d):
    """Two-sided p of the signed-rank sum over all assignments of signs."""
    d = np.array([v for v in d if v != 0])
    ranks = stats.rankdata(abs(d))
    observed = ranks[d > 0].sum()
    sums = np.array([np.dot(s, ranks) for s in itertools.product([0, 1], repeat=len(d))])
    return observed, min(1, 2 * min(np.mean(sums <= observed + 1e-9), np.mean(sums >= observed - 1e-9)))


wilcoxon = []
for n in (6, 10, 25, 50):
    d = np.round(rng.normal(0.3, 1, n), 6)
    r = stats.wilcoxon(d, mode="exact", alternative="greater")  # statistic is then the sum of positive ranks
    p = stats.wilcoxon(d, mode="exact").pvalue
    wilcoxon.append({"name": f"scipy exact, n {n}", "d": d.tolist(), "w": r.statistic, "p": p, "exact": True})
for n in (60, 200):
    d = np.round(rng.normal(0.1, 1, n), 1)  # ties and zeros
    w = stats.wilcoxon(d, mode="approx", alternative="greater").statistic
    p = stats.wilcoxon(d, mode="approx", correction=False).pvalue
    wilcoxon.append({"name": f"scipy normal with ties, n {n}", "d": d.tolist(), "w": w, "p": p, "exact": False})
for n in (5, 12):
    d = np.round(rng.normal(0.4, 1, n) * 2) / 2  # ties and zeros
    w, p = enumerated(d)
    wilcoxon.append({"name": f"enumerated with ties, n {n}", "d": d.tolist(), "w": w, "p": p, "exact": True})


def holm(p):
    """Holm 1979, straight from its definition; SciPy 1.10 has no function for it."""
    order = sorted(range(len(p)), key=lambda i: p[i])
    adjusted = [0.0] * len(p)
    for rank, i in enumerate(order):
        adjusted[i] = min(1, max((len(p) - k) * p[j] for k, j in enumerate(order[: rank + 1])))
    return adjusted


def variance(x, axis=-1):
    return np.var(x, axis=axis)


wilson = []
for k, n in [(890, 901), (890, 903), (0, 10), (10, 10), (3, 7)]:
    i = stats.binomtest(k, n).proportion_ci(0.95, method="wilson")
    wilson.append({"k": k, "n": n, "low": i.low, "high": i.high})

boot = {}
for method in ("percentile", "BCa"):
    r = stats.bootstrap((SPATIAL,), variance, n_resamples=800_000, confidence_level=0.9, method=method,
                        batch=10_000, random_state=np.random.default_rng(1))
    boot[method] = [r.confidence_interval.low, r.confidence_interval.high]

d = np.subtract(LARGE, MINI)


def limits(d):
    """Intervals of bias and limits of agreement, Bland and Altman 1999, doi:10.1177/096228029900800204."""
    n, mean, s = len(d), d.mean(), d.std(ddof=1)
    of_limit = s * np.sqrt(1 / n + 1.96**2 / (2 * (n - 1)))
    places = [(mean, s / np.sqrt(n)), (mean - 1.96 * s, of_limit), (mean + 1.96 * s, of_limit)]
    return [list(stats.t.interval(0.95, n - 1, loc=at, scale=error)) for at, error in places]


# A study of one recording of 20 sounds of each of six people: how many each method finds, without a false one.
FOUND = {
    "alpha": {"": [20, 18, 6, 20, 14, 9], "noise=pink,snr=0": [16, 18, 3, 12, 13, 7]},
    "beta": {"": [19, 19, 15, 12, 14, 9]},
    "gamma": {"": [20, 18, 6, 20, 14, 9]},
}
SOUNDS = 20


def pooled_f1(found):
    tp = found.sum(axis=-1)
    return 2 * tp / (tp + SOUNDS * found.shape[-1])


def leads(condition):
    """Share of all 6^6 samples of people in which each method has the highest pooled F1, ties shared."""
    samples = np.array(list(itertools.product(range(6), repeat=6)))
    f1 = np.array([pooled_f1(np.array(FOUND[m][condition])[samples]) for m in FOUND])
    first = f1 == f1.max(axis=0)
    return dict(zip(FOUND, (first / first.sum(axis=0)).mean(axis=1).tolist()))


def loss(method, condition):
    clean, changed = (np.array(FOUND[method][c]) for c in ("", condition))
    people = 2 * changed / (changed + SOUNDS) - 2 * clean / (clean + SOUNDS)
    return {"pooled": pooled_f1(changed) - pooled_f1(clean), "mean_over_people": people.mean(), "p": enumerated(people)[1]}


ps = [0.01, 0.04, 0.03, 0.005, 0.5]
json.dump({
    "versions": {"scipy": scipy.__version__, "numpy": np.__version__, "python": sys.version.split()[0]},
    "wilcoxon": wilcoxon,
    "holm": {"p": ps, "adjusted": holm(ps)},
    "wilson": wilson,
    "spatial": {"data": SPATIAL, "percentile": boot["percentile"], "bca": boot["BCa"]},
    "flow": {"difference": d.tolist(), "mean": d.mean(), "sd": d.std(ddof=1), "intervals": limits(d)},
    "study": {"found": FOUND, "leads": leads(""), "loss": loss("alpha", "noise=pink,snr=0")},
}, sys.stdout, indent=1)
print()
