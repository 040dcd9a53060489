"""The readings of captures as a careful user of NumPy and SciPy would script them: what gainwalk's speed is measured against.

One least-squares fit takes DC, drift, the fundamental and its harmonics and the mains comb out of each segment together (Gauss and
Newton on the fundamental), the rest is looked at with Welch's spectrum. Vectorised throughout, segments of bounded length, each
figure with its standard uncertainty from the fit's covariance. Usage: script.py FILE...
"""

import json
import sys

import numpy as np
from scipy import io, linalg, ndimage, signal

SEGMENT = 1 << 17
ORDERS = 10
MAINS_ORDERS = 10
MAINS_CYCLES = 2  # in less of a record a comb of the mains is told from nothing else
BAND = (20.0, 20000.0)


def read_wav(path):
    rate, data = io.wavfile.read(path, mmap=False)
    full = {"int16": 32768.0, "int32": 2147483648.0}.get(data.dtype.name, 1.0)
    data = data.reshape(len(data), -1)
    return float(rate), [data[:, k] / full for k in range(data.shape[1])], 2.0 / 2**24


def read_csv(path):
    with open(path, "rb") as file:
        head = file.readline().count(b",") + 1
        file.readline()
        table = np.fromstring(file.read().replace(b"\n", b","), sep=",")
    table = table[:len(table) // head * head].reshape(-1, head)
    time = table[:, 0]
    n = np.arange(len(time)) - (len(time) - 1) / 2
    interval = (n @ (time - time.mean())) / (n @ n)
    levels = np.unique(table[:SEGMENT, 1])
    return round(1 / interval, 6), [table[:, k] for k in range(1, head)], float(np.min(np.diff(levels)))


def coarse(x, rate):
    """The strongest line, by a parabola through the logarithms of a windowed spectrum."""
    spectrum = np.abs(np.fft.rfft((x - x.mean()) * signal.windows.hann(len(x), sym=False), 2 * len(x)))
    k = int(np.argmax(spectrum[4:-1])) + 4
    a, b, c = np.log(spectrum[k - 1:k + 2] + 1e-300)
    return (k + 0.5 * (a - c) / (a - 2 * b + c)) * rate / (2 * len(x))


def columns(base, t, orders):
    """Cosines and sines of the first orders, each from the one before."""
    turn = np.exp(2j * np.pi * base * t)
    out, at = [], np.ones_like(turn)
    for _ in range(orders):
        at = at * turn
        out += [at.real, at.imag]
    return out


def fit(x, rate, f0, mains):
    t = (np.arange(len(x)) - (len(x) - 1) / 2) / rate
    orders = max(1, min(ORDERS, int(0.49 * rate / f0)))
    hums = min(MAINS_ORDERS, int(0.49 * rate / mains)) if len(x) / rate * mains >= MAINS_CYCLES else 0
    fixed = [np.ones_like(t), t] + columns(mains, t, hums)
    for _ in range(4):
        own = columns(f0, t, orders)
        a = np.array(fixed + own + [np.zeros_like(t)])
        normal = a[:-1] @ a[:-1].T
        first = linalg.solve(normal, a[:-1] @ x, assume_a="pos")
        pair = first[len(fixed):].reshape(-1, 2)
        slope = sum(k * (s * own[2 * k - 2] - c * own[2 * k - 1]) for k, (c, s) in enumerate(pair, 1))
        a[-1] = 2 * np.pi * t * slope
        normal = a @ a.T
        solution = linalg.solve(normal, a @ x, assume_a="pos")
        f0 += solution[-1]
        if abs(solution[-1]) < 1e-12 * f0:
            break
    rest = x - solution[:-1] @ a[:-1]
    variance = rest @ rest / (len(x) - len(solution))
    return f0, solution, variance * np.diag(linalg.inv(normal)), rest, len(fixed)


def a_weight(f):
    f2 = f * f
    ra = 12194**2 * f2**2 / ((f2 + 20.6**2) * np.sqrt((f2 + 107.7**2) * (f2 + 737.9**2)) * (f2 + 12194**2))
    return ra * 10**0.1


def noise(rest, rate):
    f, density = signal.welch(rest, rate, "hann", min(len(rest), 1 << 15), detrend=False)
    floor = ndimage.median_filter(density, 65) / np.log(2)
    tones = np.flatnonzero(density > 20 * floor)
    quiet = density.copy()
    quiet[tones] = floor[tones]
    band = (f >= BAND[0]) & (f <= BAND[1])
    width = f[1] - f[0]
    return (np.sqrt(quiet[band].sum() * width), np.sqrt((quiet[band] * a_weight(f[band])**2).sum() * width),
            np.sqrt(np.median(density[band])), f[tones])


def envelope_dropouts(x, dc, rate, f0):
    period = max(int(round(rate / f0)), 1)
    rms = np.sqrt(np.mean((x[:len(x) // period * period] - dc).reshape(-1, period)**2, axis=1))
    return int(np.count_nonzero(np.diff((rms < 0.5 * np.median(rms)).astype(int)) == 1))


def crackle(rest):
    sigma = np.median(np.abs(rest - np.median(rest))) / 0.6745
    return int(np.count_nonzero(np.abs(rest) > 8 * sigma))


def measure_segment(x, rate, step):
    f0, solution, variance, rest, at = fit(x, rate, coarse(x, rate), 50.0)
    pairs = solution[at:-1].reshape(-1, 2)
    rms = np.hypot(pairs[:, 0], pairs[:, 1]) / np.sqrt(2)
    mains = np.hypot(solution[2:at:2], solution[3:at:2]) / np.sqrt(2)
    dc, rest_rms = solution[0], np.sqrt(np.mean(rest**2))
    ac = np.sqrt(np.sum(rms**2) + np.sum(mains**2) + rest_rms**2)
    high, low = x.max(), x.min()
    band_noise, weighted, density, tones = noise(rest, rate)
    others = np.sqrt(np.sum(rms[1:]**2) + np.sum(mains**2) + band_noise**2)
    cents = 1200 * np.log2(f0 / 440.0)
    top = step if step > 0 else 0
    return {"dc": dc, "u_dc": np.sqrt(variance[0]), "drift": solution[1], "ac_rms": ac, "total_rms": np.hypot(ac, dc),
            "peak_high": high, "peak_low": -low, "peak_to_peak": high - low, "crest": max(high - dc, dc - low) / ac,
            "frequency": f0, "u_frequency": np.sqrt(variance[-1]), "pitch": cents - 100 * np.round(cents / 100), "level": rms[0],
            "level_dbv": 20 * np.log10(rms[0]), "level_dbu": 20 * np.log10(rms[0] / np.sqrt(0.6)),
            "thd": np.sqrt(np.sum(rms[1:]**2)) / rms[0], "thd_n": others / np.hypot(rms[0], others),
            "sinad": rms[0] / np.sqrt(np.sum(rms[1:]**2) + np.sum(mains**2) + rest_rms**2), "noise": band_noise,
            "noise_a": weighted, "noise_density": density, "hum": np.sqrt(np.sum(mains**2)), "snr": rms[0] / band_noise,
            "clip_high": np.mean(x >= high - top / 2), "clip_low": np.mean(x <= low + top / 2),
            "dropouts": envelope_dropouts(x, dc, rate, f0), "crackle": crackle(rest), "tones": len(tones)}


def measure(x, rate, step):
    parts = -(-len(x) // SEGMENT)
    each = [measure_segment(x[len(x) * k // parts:len(x) * (k + 1) // parts], rate, step) for k in range(parts)]
    return {key: float(np.mean([one[key] for one in each])) for key in each[0]}


def main():
    captures = []
    for path in sys.argv[1:]:
        rate, channels, step = read_wav(path) if path.endswith(".wav") else read_csv(path)
        for number, x in enumerate(channels, 1):
            captures.append({"file": path, "channel": number, "rate_hz": rate, "samples": len(x), "readings": measure(x, rate, step)})
    json.dump({"captures": captures}, sys.stdout, indent=1)


if __name__ == "__main__":
    main()
