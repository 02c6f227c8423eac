"""Recomputes the figures of a printed summary, without code of the program.

    review.py PHONOCYCLE RESULTS DATA

RESULTS is the output folder of a run over DATA, which is a folder of the demo, of
circor or of pascal. The predictions come from the table states; the reference of
each recording comes from its own file. The rules are those that the summary prints.
Python 3.10 or newer, standard library alone.
"""
import csv, io, os, statistics, subprocess, sys

phonocycle, results, data = sys.argv[1:]
GAP, EDGE, HEADLINE = 0.030, 0.001, 0.060
TOLERANCES = [0.020, 0.030, 0.040, 0.050, 0.060, 0.080, 0.100, 0.150]
CYCLE = ["S1", "systole", "S2", "diastole"]
tiny = 1e-9  # times are whole nanoseconds


def table(name, columns):
    out = subprocess.run([phonocycle, "csv", "--raw", "--table", f"{results}/{name}", "--columns", columns], capture_output=True, text=True, check=True)
    return list(csv.DictReader(io.StringIO(out.stdout)))


def reference(audio, length, rate):
    """Intervals (start, end, state) and points (time, sound)."""
    base = os.path.join(data, audio)[:-4]
    timing = os.path.join(data, "set_a_timing.csv")
    if os.path.exists(timing):
        rows = [r for r in csv.DictReader(open(timing)) if r["fname"] == audio]
        return [], sorted((int(r["location"]) / rate, r["sound"]) for r in rows)
    if os.path.exists(base + ".tsv"):
        rows = [line.split() for line in open(base + ".tsv")]
        rows = [(float(a), float(b), int(s)) for a, b, s in rows]
        return [(a, min(b, length), CYCLE[s - 1]) for a, b, s in rows if s > 0 and b > a], []
    if os.path.exists(base + ".csv"):
        return [(float(r["start_s"]), float(r["end_s"]), r["state"]) for r in csv.DictReader(open(base + ".csv"))], []
    return [], []


def pairs(a, b, tolerance):
    """Most pairs first, then least total distance; both lists are ascending."""
    best = [[(0, 0.0, None)] * (len(b) + 1) for _ in range(len(a) + 1)]
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            options = [(best[i - 1][j][0], best[i - 1][j][1], (0, 1)), (best[i][j - 1][0], best[i][j - 1][1], (1, 0))]
            d = abs(a[i - 1] - b[j - 1])
            if d <= tolerance + tiny:
                options.append((best[i - 1][j - 1][0] - 1, best[i - 1][j - 1][1] + d, (1, 1)))
            best[i][j] = min(options, key=lambda o: o[:2])
    found, i, j = {}, len(a), len(b)
    while i and j:
        step = best[i][j][2]
        if step == (1, 1):
            found[i - 1] = j - 1
            i, j = i - 1, j - 1
        elif step == (0, 1):
            i -= 1
        else:
            j -= 1
    return found


def anchor(iv, name):
    return {"centre": (iv[0] + iv[1]) / 2, "onset": iv[0], "offset": iv[1]}[name]


def stretches(intervals):
    out = []
    for a, b, _ in sorted(intervals):
        if out and a - out[-1][1] <= GAP + tiny:
            out[-1][1] = max(b, out[-1][1])
        else:
            out.append([a, b])
    return out


class Recording:
    def __init__(self, row):
        self.id, self.person, self.length = row["recording"], row["person"], float(row["duration_s"] or 0)
        self.intervals, self.points = reference(row["audio"], self.length or 1e9, float(row["rate_hz"] or 1))
        self.failed = row["outcome"] != "done"
        self.predicted = [] if self.failed else predicted.get(self.id, [])

    def scored(self):
        return bool(self.intervals or self.points)

    def events(self, sound):
        """Reference sounds: time by anchor and whether an end of the recording cuts them."""
        if self.points:
            return [((t, t, sound), False) for t, s in self.points if s == sound]
        end = self.length or 1e9  # not known of a file that cannot be read
        return [(iv, iv[0] <= EDGE + tiny or iv[1] >= end - EDGE - tiny) for iv in self.intervals if iv[2] == sound]

    def inside(self, t, tolerance):
        if self.points:
            return self.points[0][0] - tolerance - tiny <= t <= self.points[-1][0] + tolerance + tiny
        return any(a - tiny <= t < b - tiny for a, b in stretches(self.intervals))

    def match(self, sound, name, tolerance):
        events, found = self.events(sound), [iv for iv in self.predicted if iv[2] == sound]
        m = pairs([anchor(e, name) for e, _ in events], [anchor(p, name) for p in found], tolerance)
        return events, found, m

    def count(self, sound, name, tolerance):
        if name != "centre" and self.points:
            return None
        events, found, m = self.match(sound, name, tolerance)
        tp = sum(not events[i][1] for i in m)
        fn = sum(not cut for i, (_, cut) in enumerate(events) if i not in m)
        fp = sum(self.inside(anchor(p, name), tolerance) for j, p in enumerate(found) if j not in m.values())
        return tp, fp, fn


def ratios(tp, fp, fn):
    part = lambda a, b: a / b if b else None
    return part(tp, tp + fn), part(tp, tp + fp), part(2 * tp, 2 * tp + fp + fn)


def percent(v):
    return "–" if v is None else f"{100 * v:.1f}"


def add(list_):
    list_ = [c for c in list_ if c is not None]
    return tuple(map(sum, zip(*list_))) if list_ else None


predicted = {}
for r in table("states", "recording,source,start_s,end_s,state"):
    if r["source"] == "predicted":
        predicted.setdefault(r["recording"], []).append((float(r["start_s"]), float(r["end_s"]), r["state"]))
recordings = [Recording(r) for r in table("recordings", "recording,person,audio,duration_s,rate_hz,outcome")]
recordings = [r for r in recordings if r.scored()]
SOUNDS = {"both": ["S1", "S2"], "S1": ["S1"], "S2": ["S2"]}


def of(recs, sounds, name="centre", tolerance=HEADLINE):
    return add([r.count(s, name, tolerance) for r in recs for s in SOUNDS[sounds]])


print(len(recordings), "recordings,", sum(r.failed for r in recordings), "failed")
people = sorted({r.person for r in recordings})
units = {"pooled": None, "recordings": [[r] for r in recordings], "people": [[r for r in recordings if r.person == p] for p in people]}
for unit, groups in units.items():
    for sounds in SOUNDS:
        total = of(recordings, sounds)
        if groups is None:
            values = ratios(*total)
        else:
            columns = zip(*(ratios(*of(g, sounds)) for g in groups))
            values = [statistics.mean(v for v in c if v is not None) for c in columns]
        print(f"{sounds:5} {unit:11}", *map(percent, values), *total)
for name in ("centre", "onset", "offset"):
    for sounds in SOUNDS:
        totals = [of(recordings, sounds, name, t) for t in TOLERANCES]
        print(f"F1 {sounds:5} {name:7}", *(percent(c and ratios(*c)[2]) for c in totals))

# Whole cycles, and boundaries of matched sounds.
cycles = right = 0
deltas = {f"{s} {p}": [] for s in ("S1", "S2") for p in ("onset", "offset", "anchor")}
for r in recordings:
    order, matched = [], {}
    found = sorted(iv for iv in r.predicted if iv[2] in ("S1", "S2"))
    for sound in ("S1", "S2"):
        events, sounds, m = r.match(sound, "centre", HEADLINE)
        for i, (e, cut) in enumerate(events):
            order.append((e, cut))
            if i in m:
                matched[e] = sounds[m[i]]
                if not cut:
                    p = sounds[m[i]]
                    deltas[sound + " anchor"].append(1000 * (anchor(p, "centre") - anchor(e, "centre")))
                    before, after = CYCLE[CYCLE.index(sound) - 1], CYCLE[CYCLE.index(sound) + 1]
                    near = lambda list_, at, state, side: any(s == state and abs((b if side == 0 else a) - at) <= GAP + tiny for a, b, s in list_)
                    for place, side, state in (("onset", 0, before), ("offset", 1, after)):
                        if r.intervals and near(r.intervals, e[side], state, side) and near(r.predicted, p[side], state, side):
                            deltas[f"{sound} {place}"].append(1000 * (p[side] - e[side]))
    order.sort()
    parts = [[-1e9, 1e9]] if r.points else stretches(r.intervals)
    for (a, x), (b, y), (c, z) in zip(order, order[1:], order[2:]):
        together = any(s[0] - tiny <= a[0] and c[1] <= s[1] + tiny for s in parts)
        if [a[2], b[2], c[2]] == ["S1", "S2", "S1"] and together and not (x or y or z):
            cycles += 1
            if all(e in matched for e in (a, b, c)):
                k = found.index(matched[a])
                right += found[k:k + 3] == [matched[e] for e in (a, b, c)]
print("cycles", cycles, right, percent(right / cycles))
for place, d in deltas.items():
    q = statistics.quantiles(d, n=100, method="inclusive") if len(d) > 1 else []
    print(f"{place:9}", len(d), *([f"{statistics.mean(d):+.1f}", f"{statistics.stdev(d):.1f}"] if q else []), *(f"{q[k - 1]:+.1f}" for k in (5, 25, 50, 75, 95) if q))

# Predicted state of annotated time.
time = {s: dict.fromkeys(CYCLE + ["none"], 0.0) for s in CYCLE}
for r in recordings:
    for a, b, s in r.intervals:
        rest = b - a
        for c, d, p in r.predicted:
            both = max(0.0, min(b, d) - max(a, c))
            time[s][p] += both
            rest -= both
        time[s]["none"] += rest
total = sum(sum(row.values()) for row in time.values())
if total:
    print("right", percent(sum(time[s][s] for s in CYCLE) / total), f"{total:.1f} s")
for s, row in time.items():
    if total:
        print(f"{s:8}", *(percent(v / sum(row.values())) for v in row.values()), f"{sum(row.values()):.1f}")


# Heart rate and systole, over at least three successions S1, S2, S1.
def beat(sounds, parts):
    sounds = sorted(sounds)
    rr, systole = [], []
    for a, b, c in zip(sounds, sounds[1:], sounds[2:]):
        if [a[1], b[1], c[1]] == ["S1", "S2", "S1"] and any(s[0] - tiny <= a[0] and c[0] <= s[1] + tiny for s in parts):
            rr.append(c[0] - a[0])
            systole.append(b[0] - a[0])
    return (60 / statistics.median(rr), 1000 * statistics.median(systole)) if len(rr) >= 3 else None


differences, unknown = [], [0, 0]
for r in recordings:
    parts = [[r.points[0][0] - HEADLINE, r.points[-1][0] + HEADLINE]] if r.points else stretches(r.intervals)
    a = beat([(anchor(e, "centre"), s) for s in ("S1", "S2") for e, _ in r.events(s)], parts)
    b = beat([(anchor(p, "centre"), p[2]) for p in r.predicted if p[2] in ("S1", "S2")], parts)
    if a and b:
        differences.append((b[0] - a[0], b[1] - a[1]))
    else:
        unknown[0 if not a else 1] += 1
for name, d in zip(("heart rate", "systole"), zip(*differences)):
    mean = statistics.mean(d)
    sd = statistics.stdev(d) if len(d) > 1 else None
    print(name, len(d), f"{mean:+.1f}", *([f"{mean - 1.96 * sd:+.1f}", f"{mean + 1.96 * sd:+.1f}"] if sd is not None else []), "left out", unknown)
