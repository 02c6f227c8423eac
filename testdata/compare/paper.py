"""Recomputes the table that `phonocycle compare --against NAME --table csv` prints.

Usage, with Debian's SciPy:

    /usr/bin/python3 paper.py PHONOCYCLE AGAINST RUN RUN ...

AGAINST and RUN are output folders of run, crossval or score on the same recordings.
Reads their tables of scores, by the headline tolerance, and computes the ratios, the
test of each pair and Holm's adjustment anew; bootstrap intervals are SciPy's BCa over
people, from other random numbers, so that they agree to within its noise. Prints each
cell that differs and the number that agree; exit status 1 if one differs.
"""

import csv
import io
import json
import subprocess
import sys

import numpy as np
from scipy import stats

phonocycle, folders = sys.argv[1], sys.argv[2:]
SOUNDS = {"s1": ["S1"], "s2": ["S2"], "both": ["S1", "S2"]}


def call(*args):
    return subprocess.run([phonocycle, *args], check=True, capture_output=True, text=True).stdout


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


def counts(folder, rules):
    """TP, FP and FN of each person (from the table recordings) and sound."""
    person = {r["recording"]: r["person"] for r in rows(call("csv", "--raw", "--table", folder + "/recordings", "--columns", "recording,person"))}
    scores = rows(call("csv", "--raw", "--table", folder + "/scores", "--columns", "recording,class,anchor,tolerance_ms,tp,fp,fn"))
    people = {}
    for r in scores:
        if r["class"] == "both" or r["anchor"] != rules["anchor"] or float(r["tolerance_ms"]) != rules["headline_tolerance_ms"]:
            continue
        sums = people.setdefault(person[r["recording"]], {"S1": np.zeros(3), "S2": np.zeros(3)})
        sums[r["class"]] += [float(r["tp"] or 0), float(r["fp"] or 0), float(r["fn"] or 0)]
    return people


def ratios(n):
    tp, fp, fn = n
    return tp / (tp + fn), tp / (tp + fp), 2 * tp / (2 * tp + fp + fn)


def holm(p):
    """Holm 1979, straight from its definition."""
    order = sorted(range(len(p)), key=lambda i: p[i])
    adjusted = [0.0] * len(p)
    for rank, i in enumerate(order):
        adjusted[i] = min(1, max((len(p) - k) * p[j] for k, j in enumerate(order[: rank + 1])))
    return adjusted


table = rows(call("compare", *[a for f in folders for a in ("--results", f)], "--against", folders[0].rstrip("/").split("/")[-1], "--resamples", "20000", "--table", "csv"))
with open(folders[0] + "/summary.json") as f:
    rules = json.load(f)["rules"]
runs = [counts(f, rules) for f in folders]
people = sorted(runs[0])
assert all(sorted(r) == people for r in runs)


def f1s(run):
    return np.array([ratios(run[p]["S1"] + run[p]["S2"])[2] for p in people])


def interval(statistic, size):
    """BCa at the level that widens it for the number of people (eval/bootstrap.go)."""
    z = stats.t.ppf(0.975, size - 1) * np.sqrt(size / (size - 1))
    r = stats.bootstrap((np.arange(size),), lambda i: statistic(np.asarray(i, dtype=int)), vectorized=False, n_resamples=8000,
                        method="BCa", confidence_level=2 * stats.norm.cdf(z) - 1, random_state=1)
    return [100 * v for v in r.confidence_interval]


bad = agree = 0


def check(row, column, want, tolerance=0.0501):
    global bad, agree
    got = row[column]
    if want is None:
        same = got == ""
    else:
        same = got != "" and abs(float(got) - want) <= tolerance
    agree += same
    if not same:
        bad += 1
        print(f"{row['run']}: {column} is {got}, SciPy has {want}")


base, p = f1s(runs[0]), []
for run in runs[1:]:
    d = f1s(run) - base
    d[abs(d) < 1e-12] = 0
    exact = np.count_nonzero(d) <= 50 and len(set(abs(d[d != 0]))) == np.count_nonzero(d)
    p.append(stats.wilcoxon(d, correction=False, mode="exact" if exact else "approx").pvalue)
adjusted = [None] + holm(p)
for i, (row, run) in enumerate(zip(table, runs)):
    for name, sounds in SOUNDS.items():
        total = sum(run[q][s] for q in people for s in sounds)
        for ratio, value in zip(("recall", "precision", "f1"), ratios(total)):
            check(row, f"{name}_{ratio}_percent", 100 * value)
        each = np.array([sum(run[q][s] for s in sounds) for q in people])
        for end, want in zip(("low", "high"), interval(lambda k: ratios(each[k].sum(axis=0))[2], len(people))):
            check(row, f"{name}_f1_{end}_percent", want, 0.4)
    mean = "both_mean_over_people_"
    check(row, mean + "f1_percent", 100 * f1s(run).mean())
    if i == 0:
        check(row, mean + "difference_points", None)
        check(row, mean + "adjusted_p", None)
        continue
    d = f1s(run) - base
    check(row, mean + "difference_points", 100 * d.mean())
    for end, want in zip(("low", "high"), interval(lambda k: d[k].mean(), len(people))):
        check(row, f"{mean}difference_{end}_points", want, 0.4)
    check(row, mean + "p", p[i - 1], 0.006 * p[i - 1] + 5e-3 * max(p[i - 1], 1e-9))
    check(row, mean + "adjusted_p", adjusted[i], 0.006 * adjusted[i] + 5e-3 * adjusted[i])
print(f"{agree} cells agree, {bad} differ")
sys.exit(bad > 0)
