#!/usr/bin/env python3
"""Counts the flaws of the development part of CirCor DigiScope 1.0.3 with
nothing but the standard library, as check values for the scan of package
dataset. Written apart from the Go code, from the description of the files:
rows "start end state" in seconds, 0 not annotated, 1 S1, 2 systole, 3 S2,
4 diastole. Decimal arithmetic, so that no gap comes from rounding.

    python3 circor_counts.py DIR > circor_counts.json

DIR is the folder that holds training_data.csv. Recorded with Python 3.11.2.
"""
import collections
import csv
import json
import os
import statistics
import sys
import wave
from decimal import Decimal

root = sys.argv[1]
folder = os.path.join(root, "training_data")
names = sorted(os.listdir(folder))
stems = {ext: {n[:-4] for n in names if n.endswith(ext)} for ext in (".wav", ".tsv")}
count = collections.Counter()
listed = collections.defaultdict(list)
rates, cycles = [], []

for stem in sorted(stems[".tsv"]):
    path = os.path.join(folder, stem + ".tsv")
    length = None
    if stem in stems[".wav"]:
        with wave.open(path[:-4] + ".wav") as w:
            length = Decimal(w.getnframes()) / w.getframerate()
            count["frames"] += w.getnframes()
    rows = []
    for n, line in enumerate(open(path, newline=""), 1):
        start, end, state = line.rstrip("\n").split("\t")
        rows.append((n, Decimal(start), Decimal(end), int(state)))
    kept = []
    for n, start, end, state in rows:
        if end < start:
            count["backwards"] += 1
        elif end == start:
            listed["no_length"].append(f"{stem}.tsv:{n}")
        else:
            kept.append((n, start, end, state))
        if length is not None and end > length:
            listed["past_end"].append(f"{stem}.tsv:{n}")
    for (_, _, before_end, before), (n, start, _, state) in zip(kept, kept[1:]):
        if start > before_end:
            listed["gap"].append(f"{stem}.tsv:{n}")
        if start < before_end:
            listed["overlap"].append(f"{stem}.tsv:{n}")
        if before and state and state != before % 4 + 1:
            listed["order"].append(f"{stem}.tsv:{n}")
    if length is None:
        continue
    states = [r for r in kept if r[3]]
    count["s1"] += sum(r[3] == 1 for r in states)
    count["s2"] += sum(r[3] == 3 for r in states)
    count["annotated_ns"] += int(1_000_000_000 * sum(
        min(e, length, *[x[1] for x in kept[i + 1:i + 2]]) - s for i, (_, s, e, st) in enumerate(kept) if st))
    own = []
    for i in range(len(states) - 4):
        five = states[i:i + 5]
        whole = [r[3] for r in five] == [1, 2, 3, 4, 1] and five[0][1] > 0
        if whole and all(b[1] - a[2] <= Decimal("0.03") for a, b in zip(five, five[1:])):
            own.append(float(five[4][1] - five[0][1]))
    cycles += own
    if own:
        rates.append(60 / statistics.median(own))

with open(os.path.join(root, "training_data.csv"), newline="") as f:
    table = list(csv.DictReader(f))
person = {r["Patient ID"]: r["Patient ID"] for r in table}
for r in table:
    if r["Additional ID"] != "nan":
        person[r["Patient ID"]] = str(min(int(r["Patient ID"]), int(r["Additional ID"])))


def deciles(x):
    x = sorted(x)
    def at(q):
        h = q * (len(x) - 1)
        k = int(h)
        return x[k] + (h - k) * (x[min(k + 1, len(x) - 1)] - x[k])
    return [round(at(i / 10), 6) for i in range(11)]


json.dump({
    "recordings": len(stems[".wav"]),
    "patient_ids": len(table),
    "people": len(set(person.values())),
    "pairs": len(table) - len(set(person.values())),
    "without_annotation": sorted(stems[".wav"] - stems[".tsv"]),
    "without_recording": sorted(stems[".tsv"] - stems[".wav"]),
    "murmur_recordings": dict(sorted(collections.Counter(
        r["Murmur"] for r in table for s in stems[".wav"] if s.split("_")[0] == r["Patient ID"]).items())),
    "s1": count["s1"], "s2": count["s2"], "backwards": count["backwards"],
    "annotated_s": count["annotated_ns"] / 1e9,
    "heart_rate_recordings": len(rates),
    "heart_rate_min_deciles_max": deciles(rates),
    "heart_rate_by_cycle": deciles([60 / c for c in cycles]),
    **listed,
}, sys.stdout, indent=1)
print()
