"""The joint fit beside SciPy's own least squares, run live on whole captures through `gainwalk measure --json`.

DC, level, frequency, harmonics and their phases must agree to 1e-6 (relative, or of the signal's peak where the figure
itself may be near zero), uncertainties of pure sines to 2 %: SciPy's covariance is that of the same model."""

import os
import tempfile

import beside
from beside import close

import numpy as np
from scipy import optimize

AGREE = 1e-6

# name, samples, rate, cycles, DC, peak, {order: (relative size, phase)}, noise (of the peak)
CASES = [
    ("2.3 cycles", 1000, 434783.0, 2.3, 0.3, 1.0, {}, 0.01),
    ("1.6 cycles, small", 2500, 250e3, 1.6, -0.02, 0.004, {}, 0.001),
    ("third harmonic", 1200, 100e3, 3.7, 0.1, 2.0, {3: (0.1, 1.0)}, 0.003),
    ("second and third, many cycles", 20000, 48e3, 415.4, 0.0, 0.5, {2: (0.02, 0.4), 3: (0.01, 2.0)}, 0.001),
    ("hidden by DC", 1500, 20e3, 5.5, 12.0, 0.01, {}, 0.02),
]


def time_of(count, rate):
    """Seconds from mid-record."""
    return (np.arange(count) - 0.5 * (count - 1)) / rate


def made(case, generator):
    name, count, rate, cycles, dc, peak, harmonics, noise = case
    t, f = time_of(count, rate), cycles * rate / count
    volts = dc + peak * np.sin(2 * np.pi * f * t + 0.7)
    for order, (size, phase) in harmonics.items():
        volts += peak * size * np.sin(2 * np.pi * order * f * t + phase)
    return volts + noise * peak * generator.normal(size=count), f


def fitted(volts, rate, guess, orders):
    """SciPy's solution: dc, cosine and sine of each order at mid-record, frequency; covariance by its Jacobian."""
    t = time_of(len(volts), rate)
    span = t[-1] - t[0]

    def model(p):
        f = guess + p[-1] / span
        out = np.full(len(t), p[0])
        for k, order in enumerate(orders):
            out += p[1 + 2 * k] * np.cos(2 * np.pi * order * f * t) + p[2 + 2 * k] * np.sin(2 * np.pi * order * f * t)
        return out

    scale = np.std(volts)
    start = np.zeros(2 + 2 * len(orders))
    start[0], start[1], start[2] = np.mean(volts), scale, scale
    found = optimize.least_squares(lambda p: (model(p) - volts) / scale, start, method="lm", xtol=1e-15, ftol=1e-15,
                                   gtol=1e-15, max_nfev=20000)
    covariance = np.linalg.inv(found.jac.T @ found.jac) * 2 * found.cost / (len(t) - len(start))
    return found.x, np.sqrt(np.diag(covariance)), guess + found.x[-1] / span, span


def phase_of(cosine, sine, frequency, rate, count):
    """Of the cosine at the first sample, degrees."""
    start = -0.5 * (count - 1) / rate
    return np.degrees(np.arctan2(-sine, cosine) + 2 * np.pi * frequency * start)


def check(case, folder, generator):
    name, count, rate, peak, harmonics = case[0], case[1], case[2], case[5], case[6]
    volts, truth = made(case, generator)
    path = beside.write_csv(os.path.join(folder, "capture.csv"), volts, rate, "%.17g")
    capture = beside.measure("--accuracy", "0 %", path)[0]
    readings = capture["readings"]
    orders = [1] + sorted(harmonics)
    p, u, frequency, span = fitted(volts, rate, truth, orders)
    rms = [np.hypot(p[1 + 2 * k], p[2 + 2 * k]) / np.sqrt(2) for k in range(len(orders))]
    close(f"{name}: dc", readings["dc"]["value"], p[0], AGREE * max(peak, abs(p[0])))
    close(f"{name}: level", readings["level"]["value"], rms[0], AGREE * rms[0])
    close(f"{name}: frequency", readings["frequency"]["value"], frequency, AGREE * frequency)
    table = {h["order"]: h for h in capture["harmonics"]}
    for k, order in enumerate(orders):
        close(f"{name}: harmonic {order}", table[order]["rms"], rms[k], AGREE * rms[0])
        turn = table[order]["phase_deg"] - phase_of(p[1 + 2 * k], p[2 + 2 * k], order * frequency, rate, count)
        close(f"{name}: phase {order}", (turn + 180) % 360 - 180, 0, 1e-3 * rms[0] / rms[k])
    if harmonics:
        thd = 100 * np.sqrt(sum(r * r for r in rms[1:])) / rms[0]
        close(f"{name}: thd", readings["thd"]["value"], thd, 0.02 * thd)
    else:
        # a record of less than two cycles of the mains adds what hum may hide in it
        ratio = readings["dc"]["u95"] / (2 * u[0])
        if count / rate < 0.04:
            ratio = min(max(ratio, 1), 2) if ratio >= 0.98 else ratio
            close(f"{name}: u95 of dc", ratio, 1.5, 0.5)
        else:
            close(f"{name}: u95 of dc", ratio, 1, 0.02)
        close(f"{name}: u95 of frequency", readings["frequency"]["u95"] / (2 * u[-1] / span), 1, 0.02)


def main():
    generator = np.random.default_rng(20)
    with tempfile.TemporaryDirectory() as folder:
        for case in CASES:
            check(case, folder, generator)
    beside.end()


main()
