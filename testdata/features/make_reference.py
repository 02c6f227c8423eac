#!/usr/bin/python3
"""Makes a synthetic recording and computes every feature of it with SciPy.

The features are written from the dictionary, its page of notation included, in
the most direct way that NumPy and SciPy offer and not in that of the Go code,
which is tested against the result. Run in this directory:

    /usr/bin/python3 make_reference.py

It writes recording_4000_hz.wav (16 bit, as from a stethoscope) and
reference.json (intervals, features, versions). The result does not change from
run to run.
"""
import json
import math
import platform

import numpy as np
import scipy
from scipy import fft, signal, stats
from scipy.io import wavfile

RAW = 4000
RATE = 1000
STATES = ["s1", "systole", "s2", "diastole"]
BANDS = [(25, 45), (45, 80), (80, 200), (200, 400)]


# --- the recording -----------------------------------------------------------

def make_intervals():
    """Six beats; the fourth diastole is longer than 1.024 s, the sixth S2 too
    short for a spectrum; a gap of 40 ns ends the fifth cycle."""
    lengths = [
        (123_400_000, 201_300_000, 98_700_000, 377_100_000),
        (118_000_000, 197_050_000, 101_000_000, 402_000_001),
        (131_000_000, 204_000_000, 92_333_333, 391_000_000),
        (125_000_000, 199_000_000, 96_000_000, 1_210_000_000),
        (121_000_000, 206_000_000, 95_000_000, 355_000_000),
        (120_000_000, 210_000_000, 31_000_000, 431_000_000),
        (119_000_000, 203_000_000, 99_000_000, 380_000_000),
    ]
    rows, at = [], 0
    rows.append((0, 260_000_000, "diastole"))
    at = 260_000_000
    for n, beat in enumerate(lengths):
        for name, d in zip(STATES, beat):
            rows.append((at, at + d, name))
            at += d
        if n == 4:
            at += 40
    rows.append((at, at + 118_000_000, "s1"))
    return rows


def make_raw(intervals, seconds):
    rng = np.random.default_rng(20240229)
    t = np.arange(int(seconds * RAW)) / RAW
    x = 0.02 * np.sin(2 * np.pi * 0.3 * t) + 0.011  # wander and offset
    x += 0.004 * rng.standard_normal(len(t))
    beat = 0
    for start, end, name in intervals:
        a, b = start / 1e9, end / 1e9
        u = t - a
        inside = (t >= a) & (t < b)
        if name == "s1":
            beat += 1
            x += 0.20 * np.exp(-((u - 0.045) / 0.018) ** 2) * np.sin(2 * np.pi * 42 * u)
            x += 0.12 * np.exp(-((u - 0.070) / 0.016) ** 2) * np.sin(2 * np.pi * 95 * u)
        if name == "s2":
            gap = 0.028 + 0.004 * (beat % 3)
            x += 0.22 * np.exp(-((u - 0.028) / 0.009) ** 2) * np.sin(2 * np.pi * 70 * u)
            x += 0.14 * np.exp(-((u - 0.028 - gap) / 0.008) ** 2) * np.sin(2 * np.pi * 62 * u + 0.4)
        if name == "systole":
            shape = np.sin(np.pi * u / (b - a)) ** 2
            x += inside * 0.03 * shape * np.sin(2 * np.pi * 230 * u) * (1 + 0.5 * rng.standard_normal(len(t)))
    pcm = np.round(x * 32768)
    pcm[26400:26416] += np.round(22500 * np.sin(np.pi * np.arange(16) / 8))  # a click
    pcm[9000:9007] = pcm.min() - 40  # 7 samples of a plateau
    pcm[12000:12250] = 17  # 62 ms of a dead line
    return np.clip(pcm, -32768, 32767).astype(np.int16)


# --- the signals that features are measured on -------------------------------

def resampled(raw, rate):
    """The signal at 1 kHz, for a rate that is a whole multiple of it: a sinc under Kaiser's window
    for 100 dB and a transition from 400 to 500 Hz, divided by its sum."""
    beta = 0.1102 * (100 - 8.7)
    half = (100 - 7.95) / (2.285 * 2 * math.pi * 0.1 * RATE / rate) / 2
    t = np.arange(-math.ceil(half) + 1, math.ceil(half))
    cut = 0.45 * RATE / rate
    taps = 2 * cut * np.sinc(2 * cut * t) * np.i0(beta * np.sqrt(np.maximum(0, 1 - (t / half) ** 2)))
    return np.convolve(raw, taps / taps.sum())[len(t) // 2:][:len(raw)][::rate // RATE]


def zero_phase(x, order, low, high):
    sos = signal.butter(order, [low, high], "bandpass", fs=RATE, output="sos")
    poles = np.concatenate([np.roots(s[3:]) for s in sos])
    pad = math.ceil(math.log(1e-3) / math.log(np.abs(poles).max()))
    return signal.sosfiltfilt(sos, x, padtype="odd", padlen=pad)


def hilbert_envelope(y):
    """Mirrored at both ends by up to 512 samples, which fade by half a period of a cosine, with zeros
    behind to eight times a power of two, or three times one."""
    margin = min(len(y), 512)
    fade = (1 + np.cos(np.pi * (np.arange(margin) + 0.5) / margin)) / 2
    before = np.concatenate([np.zeros(margin % 2), (fade * y[:margin])[::-1]])
    wide = np.concatenate([before, y, fade * y[::-1][:margin]])
    length = min(m * 2**k for m in (8, 24) for k in range(30) if m * 2**k >= len(wide))
    wide = np.concatenate([wide, np.zeros(length - len(wide))])
    return np.abs(signal.hilbert(wide))[len(before):len(before) + len(y)]


def wavelet_details(x, level):
    """Detail of the undecimated transform by its frequency response."""
    pad = 2048
    wide = np.pad(x, pad, mode="symmetric")
    w = 2 * np.pi * np.fft.fftfreq(len(wide))
    h = np.ones_like(w, dtype=complex)
    for k in range(level - 1):
        h *= math.sqrt(2) * np.cos(2**k * w / 2) ** 3
    v = 2 ** (level - 1) * w
    s = sum(math.comb(5 + n, n) * np.cos(v / 2) ** (2 * n) for n in range(6))
    h *= 1j * math.sqrt(2) * np.sin(v / 2) ** 9 * s
    return np.fft.ifft(np.fft.fft(wide) * h * np.exp(0.5j * w)).real[pad:-pad]


def thinned(raw, rate):
    factor = rate // 2000
    transition = rate / factor - 1600
    half = math.ceil(5.5 * rate / transition / 2)
    taps = signal.firwin(2 * half + 1, 1 / factor, window="blackman")
    return np.convolve(raw, taps)[half:half + len(raw)][::factor], rate / factor


# --- measures ----------------------------------------------------------------

def periodogram(x, fs, points):
    """Hann periodogram on the grid of the given number of points; of more samples than that the mean
    over the fewest segments of so many that overlap by half and reach from the first to the last."""
    def one(segment):
        return signal.periodogram(segment, fs, window="hann", nfft=points, detrend="constant")

    rest = len(x) - points
    if rest <= 0:
        return one(x)
    last = math.ceil(2 * rest / points)
    starts = [math.floor(i * rest / last + 0.5) for i in range(last + 1)]
    return one(x)[0], np.mean([one(x[s:s + points])[1] for s in starts], axis=0)


def within(f, p, low, high):
    keep = (f >= low) & (f < high)
    return f[keep], p[keep]


def share(f, p, low, high):
    return within(f, p, low, high)[1].sum() / p.sum()


def quantile_frequency(f, p, q):
    edges = np.concatenate([[f[0]], f + (f[1] - f[0])]) - (f[1] - f[0]) / 2
    return np.interp(q * p.sum(), np.concatenate([[0], np.cumsum(p)]), edges)


def entropy(p):
    return stats.entropy(p) / math.log(len(p))


def slope(f, p):
    # polyfit squares its weights.
    return np.polyfit(np.log2(f), 10 * np.log10(p), 1, w=np.sqrt(1 / f))[0]


def cepstrum(f, p):
    def mel(hz):
        return 2595 * np.log10(1 + hz / 700)

    corners = 700 * (10 ** (np.linspace(mel(25), mel(400), 22) / 2595) - 1)
    e = []
    for left, centre, right in zip(corners, corners[1:], corners[2:]):
        w = np.interp(f, [left, centre, right], [0, 1, 0], left=0, right=0)
        e.append(np.average(p, weights=w))
    e = np.maximum(e, 1e-10 * max(e))
    return fft.dct(np.log(e), type=2, norm="ortho")[:13]


def sample_entropy(x, m=2):
    r = 0.2 * np.std(x)
    places = len(x) - m

    def count(length):
        t = np.lib.stride_tricks.sliding_window_view(x, length)[:places]
        near = np.abs(t[:, None, :] - t[None, :, :]).max(axis=2) <= r
        return (near.sum() - places) // 2

    with np.errstate(divide="ignore"):
        v = math.log(count(m) / count(m + 1)) if count(m + 1) else math.nan
    return v


def split(a):
    w = np.hanning(23)[1:-1]
    s = np.convolve(a, w, "same") / np.convolve(np.ones(len(a)), w, "same")
    maxima = signal.argrelmax(s)[0]
    first = maxima[np.argmax(s[maxima])]
    best = None
    for side in (-1, 1):
        near = [i for i in maxima if 15 <= side * (i - first) <= 100]
        if not near:
            continue
        second = max(near, key=lambda i: s[i])
        dip = 1 - s[min(first, second):max(first, second) + 1].min() / s[second]
        if s[second] >= 0.2 * s[first] and dip >= 0.05 and (best is None or s[second] > best[0]):
            best = (s[second], abs(second - first) / RATE, dip)
    return (math.nan, 0.0) if best is None else best[1:]


def rms(v):
    return math.sqrt(np.mean(np.square(v)))


def crossings(v):
    s = np.sign(v[v != 0])
    return int(np.sum(s[1:] != s[:-1]))


def db(r):
    return 10 * math.log10(r)


def runs(x):
    """Starts and lengths of the runs of equal samples."""
    edges = np.flatnonzero(np.diff(x)) + 1
    starts = np.concatenate([[0], edges])
    return starts, np.diff(np.concatenate([starts, [len(x)]]))


# --- features ----------------------------------------------------------------

def samples(ns, rate):
    return int(math.floor(ns * rate / 1e9 + 0.5))


def cycle_features(at, sig):
    out = {}
    d = [(b - a) / 1e9 for a, b in zip(at, at[1:])]
    rr = (at[4] - at[0]) / 1e9
    out["rr_interval_s"] = rr
    for name, v in zip(STATES, d):
        out[name + "_duration_s"] = v
    out["systole_to_rr_percent"] = 100 * d[1] / rr
    out["diastole_to_rr_percent"] = 100 * d[3] / rr
    out["systole_to_diastole_percent"] = 100 * d[1] / d[3]
    out["s1_to_s2_interval_s"] = d[0] + d[1]
    out["s2_to_s1_interval_s"] = d[2] + d[3]
    out["s1_to_s2_interval_to_rr_percent"] = 100 * (d[0] + d[1]) / rr
    out["s2_to_s1_interval_to_s1_to_s2_interval_ratio"] = (d[2] + d[3]) / (d[0] + d[1])

    cut = [slice(samples(a, RATE), samples(b, RATE)) for a, b in zip(at, at[1:])]
    y = [sig["y"][c] for c in cut]
    z = [sig["z"][c] for c in cut]
    env = [sig["A"][c] for c in cut]

    out["s2_split_s"], out["s2_split_confidence"] = split(env[2]) if len(env[2]) >= 40 else (math.nan, math.nan)
    out["systole_to_s1_amplitude_percent"] = 100 * np.mean(np.abs(y[1])) / np.mean(np.abs(y[0]))
    out["diastole_to_s2_amplitude_percent"] = 100 * np.mean(np.abs(y[3])) / np.mean(np.abs(y[2]))
    for a, b in ((2, 0), (1, 0), (3, 2), (1, 3)):
        out[f"{STATES[a]}_to_{STATES[b]}_rms_ratio"] = rms(y[a]) / rms(y[b])
    out["s2_to_s1_peak_ratio"] = np.abs(y[2]).max() / np.abs(y[0]).max()

    for a, b in ((1, 0), (3, 2)):
        for k, word in enumerate(("first", "middle", "last")):
            n = len(z[a])
            third = z[a][k * n // 3:(k + 1) * n // 3]
            out[f"{STATES[a]}_{word}_third_band_150_400_hz_to_{STATES[b]}_db"] = db(np.mean(third**2) / np.mean(y[b] ** 2))
    for i in (1, 3):
        n = len(env[i])
        for k in range(10):
            out[f"{STATES[i]}_envelope_tenth_{k + 1:02d}_ratio"] = env[i][k * n // 10:(k + 1) * n // 10].mean() / env[i].mean()

    for i, name in enumerate(STATES):
        v = y[i]
        out[name + "_rms_fs"] = rms(v)
        out[name + "_peak_fs"] = np.abs(v).max()
        out[name + "_crest_ratio"] = np.abs(v).max() / rms(v)
        out[name + "_skewness"] = stats.skew(v)
        out[name + "_kurtosis"] = stats.kurtosis(v, fisher=False)
        out[name + "_zero_crossings_per_s"] = crossings(v) / d[i]
        out[name + "_envelope_centre_share"] = np.average(np.arange(len(v)) + 0.5, weights=env[i]) / len(v)
        out[name + "_sample_entropy"] = sample_entropy(v[:512]) if len(v) >= 50 else math.nan
        out.update(state_spectrum(name, at[i], at[i + 1], sig, cut[i]))
    return out


def state_spectrum(name, start, end, sig, cut):
    x = sig["x"][cut]
    f, p = within(*periodogram(x, RATE, 1024), 25, 400)
    centroid = np.average(f, weights=p)
    out = {
        "centroid_hz": centroid,
        "spread_hz": math.sqrt(np.average((f - centroid) ** 2, weights=p)),
        "median_frequency_hz": quantile_frequency(f, p, 0.5),
        "peak_frequency_hz": f[np.argmax(p)],
        "rolloff_85_hz": quantile_frequency(f, p, 0.85),
        "rolloff_95_hz": quantile_frequency(f, p, 0.95),
        "spectral_entropy": entropy(p),
        "spectral_flatness": stats.gmean(p) / p.mean(),
        "slope_50_400_hz_db_per_octave": slope(*within(f, p, 50, 400)),
    }
    for low, high in BANDS:
        out[f"band_{low}_{high}_hz_share"] = share(f, p, low, high)
    rate = sig["v_rate"]
    v = sig["v"][round(start / 1e9 * rate):round(end / 1e9 * rate)]
    points = 1 << (math.ceil(rate / 2) - 1).bit_length()
    out["band_400_800_hz_share"] = share(*within(*periodogram(v, rate, points), 25, 800), 400, 800)
    for k, c in enumerate(cepstrum(f, p)):
        out[f"mel_cepstrum_{k:02d}"] = c
    energies = [np.sum(d[cut] ** 2) for d in sig["d"]]
    for label, d, e in zip(("31_62", "62_125", "125_250", "250_500"), sig["d"], energies):
        out[f"wavelet_{label}_hz_share"] = e / sum(energies)
        out[f"wavelet_{label}_hz_entropy"] = stats.entropy(d[cut] ** 2) / math.log(len(x))
    if len(x) < 40:
        out = {k: math.nan for k in out}
    return {f"{name}_{k}": v for k, v in out.items()}


def recording_features(cycles, intervals, raw, sig):
    out = {}
    y, x, env = sig["y"], sig["x"], sig["A"]
    rr = np.array([(c[4] - c[0]) / 1e9 for c in cycles])
    mech = np.array([(c[2] - c[0]) / 1e9 for c in cycles])
    out["cycles_count"] = len(cycles)
    out["cycles_share"] = rr.sum() / (len(raw) / RAW)
    out["heart_rate_per_min"] = 60 / rr.mean()
    out["rr_coefficient_of_variation"] = stats.variation(rr, ddof=1)
    pairs = [(a, b) for a, b in zip(cycles, cycles[1:]) if a[4] == b[0]]
    out["rr_successive_over_50_ms_share"] = np.mean([abs((b[4] - b[0]) - (a[4] - a[0])) > 50e6 for a, b in pairs])
    line = stats.linregress(rr, mech)
    out["s1_to_s2_interval_on_rr_slope"] = line.slope
    out["s1_to_s2_interval_rr_correlation"] = line.rvalue
    for name, i, j in (("rr_interval", 0, 4), ("systole", 1, 2), ("diastole", 3, 4)):
        out[name + "_rmssd_s"] = rms([((b[j] - b[i]) - (a[j] - a[i])) / 1e9 for a, b in pairs])

    out["raw_peak_fs"] = np.abs(raw).max()
    out["raw_mean_fs"] = raw.mean()
    out["raw_rms_db"] = 20 * math.log10(np.std(raw))
    starts, lengths = runs(raw)
    extreme = (raw[starts] == raw.max()) | (raw[starts] == raw.min())
    out["raw_clipped_share"] = lengths[extreme & (lengths >= max(3, RAW / 1000))].sum() / len(raw)
    out["raw_flat_share"] = lengths[lengths >= 0.05 * RAW].sum() / len(raw)

    state = np.zeros(len(y))
    for start, end, name in intervals:
        state[samples(start, RATE):samples(end, RATE)] = 1 if name in ("s1", "s2") else 2
    out["sound_to_pause_db"] = db(np.mean(y[state == 1] ** 2) / np.mean(y[state == 2] ** 2))
    out["recording_rms_fs"] = rms(y)
    out["recording_skewness"] = stats.skew(y)
    out["recording_kurtosis"] = stats.kurtosis(y, fisher=False)
    out["recording_zero_crossings_per_s"] = crossings(y) / (len(y) / RATE)
    out["recording_successive_difference_ratio"] = rms(np.diff(y)) / rms(y)
    peaks = np.abs(y[:len(y) // 500 * 500]).reshape(-1, 500).max(axis=1)
    out["recording_spike_share"] = np.mean(peaks > 3 * np.median(peaks))

    f, w = signal.welch(x, RATE, "hann", 1024, 512, detrend="constant")
    f, w = within(f, w, 0, 500)
    out["recording_band_20_150_to_150_400_hz_db"] = db(within(f, w, 20, 150)[1].sum() / within(f, w, 150, 400)[1].sum())
    g, p = within(f, w, 25, 400)
    out["recording_centroid_hz"] = np.average(g, weights=p)
    out["recording_spectral_entropy"] = entropy(p)
    out["recording_spectral_flatness"] = stats.gmean(p) / p.mean()
    out["recording_band_0_25_hz_share"] = share(f, w, 0, 25)
    out["recording_band_25_400_hz_share"] = share(f, w, 25, 400)
    n = 1 << (math.ceil(sig["v_rate"] / 2) - 1).bit_length()
    g, q = within(*signal.welch(sig["v"], sig["v_rate"], "hann", n, n // 2, detrend="constant"), 25, 800)
    out["recording_band_400_800_hz_share"] = share(g, q, 400, 800)

    h = env[:len(env) // 20 * 20].reshape(-1, 20).mean(axis=1)
    lags = [k for k in range(14, 101) if len(h) - k >= 50]
    corr = [np.corrcoef(h[:-k], h[k:])[0, 1] for k in lags]
    out["envelope_periodicity"] = max(corr)
    lag = lags[int(np.argmax(corr))]
    out["envelope_period_s"] = lag / 50
    rows = min(len(h) // lag, 64)
    sv = np.linalg.svd(h[:rows * lag].reshape(rows, lag), compute_uv=False)
    out["envelope_stack_singular_ratio"] = sv[1] / sv[0]
    c = h - h.mean()
    acf = np.correlate(c, c, "full")[len(c) - 1:]
    acf = acf[1:251] / acf[0]
    out["envelope_autocorrelation_sd"] = np.std(acf, ddof=1)
    out["envelope_autocorrelation_kurtosis"] = stats.kurtosis(acf, fisher=False)
    out["envelope_autocorrelation_sample_entropy"] = sample_entropy(acf)
    out["envelope_sample_entropy"] = sample_entropy(h[:1500])
    out["envelope_coefficient_of_variation"] = stats.variation(h)
    out["envelope_skewness"] = stats.skew(h)
    out["envelope_kurtosis"] = stats.kurtosis(h, fisher=False)
    out["envelope_range_db"] = 20 * math.log10(np.quantile(h, 0.95) / np.quantile(h, 0.05))
    return out


def statistics_over(cycles):
    out = {}
    for name in cycles[0]:
        v = np.array([c[name] for c in cycles], dtype=float)
        v = v[~np.isnan(v)]
        nan = math.nan
        out[name + "_mean"] = np.mean(v) if len(v) else nan
        out[name + "_sd"] = np.std(v, ddof=1) if len(v) > 1 else nan
        out[name + "_median"] = np.median(v) if len(v) else nan
        out[name + "_iqr"] = stats.iqr(v) if len(v) > 1 else nan
    return out


def whole_cycles(rows):
    found = []
    for k in range(len(rows) - 4):
        five = rows[k:k + 5]
        names = [r[2] for r in five]
        joined = all(a[1] == b[0] for a, b in zip(five, five[1:]))
        if names == STATES + ["s1"] and joined and five[0][0] > 0:
            found.append([five[0][0], five[1][0], five[2][0], five[3][0], five[4][0]])
    return found


def plain(v):
    v = float(v)
    return None if math.isnan(v) else v


def main():
    intervals = make_intervals()
    seconds = math.ceil(intervals[-1][1] / 1e8) / 10 + 0.1
    pcm = make_raw(intervals, seconds)
    raw = pcm / 32768
    x = resampled(raw, RAW)
    wavfile.write("recording_4000_hz.wav", RAW, pcm)

    y = zero_phase(x, 2, 25, 400)
    v, v_rate = thinned(raw, RAW)
    sig = {
        "x": x, "y": y, "z": zero_phase(x, 4, 150, 400), "A": hilbert_envelope(y),
        "d": [wavelet_details(x, k) for k in (4, 3, 2, 1)], "v": v, "v_rate": v_rate,
    }
    cycles = whole_cycles(intervals)
    values = [cycle_features(c, sig) for c in cycles]
    recording = recording_features(cycles, intervals, raw, sig)
    recording.update(statistics_over(values))
    result = {
        "versions": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__},
        "intervals": [{"start_ns": a, "end_ns": b, "state": s} for a, b, s in intervals],
        "cycles": [{k: plain(v) for k, v in c.items()} for c in values],
        "recording": {k: plain(v) for k, v in recording.items()},
    }
    with open("reference.json", "w") as out:
        json.dump(result, out, indent=1)
        out.write("\n")


if __name__ == "__main__":
    main()
