"""How often u95 holds the truth, and how near the estimates come to the Cramer-Rao bound, by scenario and reading.

Through the program: every trial is a WAV file of 32 bits (steps of a nanovolt), a coarse one a CSV file with its steps.
Truths are those of the generator (truths.py); a peak is the waveform's without its noise.

The table: shares of trials in which u95 held, in per cent (b: in which the bound of a `below` held; -: withheld; empty:
no truth to compare), and variances of DC, frequency and level over their bounds.

Goals: u95 holds in 93 % of trials at least, and where noise dominates in 98.5 % at most; the variance of DC, level and
frequency is within 10 % of the bound, their bias under a third of its deviation; noise is no tone, a sine no noise."""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from scipy.io import wavfile

import scenarios
from truths import Whitener, best_errors, make, truth_of

HERE = os.path.dirname(os.path.abspath(__file__))
FULL = 0.45  # 1 V in units of full scale
DECIBELS = ("snr", "sinad")
READINGS = ("dc", "ac_rms", "total_rms", "peak_high", "peak_low", "peak_to_peak", "crest", "frequency", "level", "thd",
            "thd_n", "sinad", "noise", "noise_a", "noise_density", "hum", "snr", "drift")
PLAIN = ("crest", "frequency", "thd", "thd_n", "sinad", "snr")  # no volts
EFFICIENT = ("dc", "level", "frequency")
LEAST, MOST, VARIANCE, BIAS = 0.93, 0.985, 0.10, 1 / 3


class Tally:
    """One reading of one scenario."""

    def __init__(self):
        self.values = self.held = self.belows = self.bounded = self.none = 0
        self.errors, self.best, self.u95 = [], [], []

    @property
    def trials(self):
        return self.values + self.belows + self.none

    @property
    def coverage(self):
        return self.held / self.values if self.values else float("nan")

    def moments(self):
        """Variance over the bound, bias in its deviations."""
        errors, best = np.array(self.errors), np.array(self.best)
        bound = np.mean(best**2)
        return np.var(errors) / bound, np.mean(errors) / np.sqrt(bound)

    def faults(self, noisy, hidden, scatter=3):
        """What is beyond the goals by more than chance explains (`scatter` deviations)."""
        found = []
        if self.values >= max(10, self.trials / 20):
            chance = scatter * np.sqrt(0.05 * 0.95 / self.values)
            if self.coverage < LEAST - chance:
                found.append("held too seldom")
            if noisy and not hidden and self.coverage > MOST + scatter * np.sqrt(MOST * (1 - MOST) / self.values):
                found.append("u95 too wide")
        if self.belows >= max(10, self.trials / 20) and self.bounded / self.belows < LEAST - scatter * np.sqrt(
                0.05 * 0.95 / self.belows):
            found.append("bound too low")
        if self.best and noisy and not hidden and self.values > 0.9 * self.trials:
            variance, bias = self.moments()
            if variance > 1 + VARIANCE + scatter * 0.02:
                found.append("variance")
            if abs(bias) > BIAS:
                found.append("bias")
        return found


def write(records, folder, name):
    """Files of the records; what to ask of the program."""
    if records[0].step:
        paths = []
        for k, r in enumerate(records):
            codes = np.round(r.samples / r.step)
            paths.append(os.path.join(folder, "%s-%d.csv" % (name, k)))
            with open(paths[-1], "w") as out:
                out.write("time,V\n")
                out.writelines("%.10e,%.9g\n" % (i / r.rate, c * r.step) for i, c in enumerate(codes))
        return paths, ["--accuracy", "0%"]
    paths = []
    for k, r in enumerate(records):
        paths.append(os.path.join(folder, "%s-%d.wav" % (name, k)))
        ints = np.round(r.samples * FULL * 2**31)
        assert np.all(np.abs(ints) < 2**31)
        wavfile.write(paths[-1], r.rate, ints.astype(np.int32))
    return paths, []


def ask(arguments):
    """What the program says of captures: one answer a channel."""
    done = subprocess.run([os.environ["GAINWALK"], "measure", "--json", "--jobs", "1", *arguments], capture_output=True,
                          check=True, text=True)
    return json.loads(done.stdout)["captures"]


def measure(records, folder, name, jobs):
    paths, options = write(records, folder, name)
    parts = [paths[k::jobs] for k in range(jobs)]

    with ThreadPoolExecutor(jobs) as pool:
        told = list(pool.map(lambda part: ask([*options, *part]), [p for p in parts if p]))
    out = [None] * len(paths)
    for k, part in enumerate(told):
        out[k::jobs] = part
    for path in paths:
        os.unlink(path)
    return out


def plain(key, reading, scale):
    """Value, u95 (or the bound) in volts or as a ratio."""
    if "value" not in reading:
        return reading.get("below", 0) * (0.01 if key.startswith("thd") else 1 if key in PLAIN else scale), None
    value, u95 = reading["value"], reading["u95"]
    if key in DECIBELS:
        ratio = 10 ** (value / 20)
        return ratio, ratio * (10 ** (u95 / 20) - 1)
    factor = 0.01 if key.startswith("thd") else 1 if key in PLAIN else scale
    return factor * value, factor * u95


def count(tallies, told, truth, best, scale):
    for key in READINGS:
        reading = told["readings"][key]
        if key not in truth or not np.isfinite(truth[key]):
            continue
        tally = tallies.setdefault(key, Tally())
        value, u95 = plain(key, reading, scale)
        if "value" in reading:
            tally.values += 1
            tally.held += abs(value - truth[key]) <= u95
            tally.u95.append(u95)
            if key in best:
                tally.errors.append(value - truth[key])
                tally.best.append(best[key])
        elif "below" in reading:
            tally.belows += 1
            tally.bounded += truth[key] <= value
        else:
            tally.none += 1


def run(name, trials, seed, jobs, folder):
    """Tallies by reading, and how many records were taken for what."""
    scenario = scenarios.SCENARIOS[name]
    random = np.random.default_rng([seed, *name.encode()])
    records = [make(scenario["make"](random), random) for _ in range(trials)]
    whitener, tallies, kinds = Whitener(), {}, {}
    for record, told in zip(records, measure(records, folder, name, jobs)):
        kind = told["signal"]
        kinds[kind] = kinds.get(kind, 0) + 1
        if kind != scenario["kind"]:
            continue
        best = {}
        if scenario["noisy"] and not scenario.get("hidden") and not record.colour:
            best = best_errors(record, kind, whitener)
        count(tallies, told, truth_of(record, kind), best, 1 if record.step else 1 / FULL)
    return tallies, kinds


SHORT = {"total_rms": "total", "peak_high": "high", "peak_low": "low", "peak_to_peak": "p-p", "frequency": "freq",
         "noise_a": "nois_a", "noise_density": "dens"}


def cell(tally):
    """Share held in per cent; b: bounds held; - withheld."""
    if tally is None:
        return ""
    if tally.values >= max(tally.belows, tally.none):
        return "%.1f" % (100 * tally.coverage)
    if tally.belows >= tally.none:
        return "b%.0f" % (100 * tally.bounded / tally.belows)
    return "-"


def head():
    return " " * 24 + "".join("%6s" % SHORT.get(key, key)[:6] for key in READINGS) + "   v.dc v.freq v.levl"


def row(name, tallies, wrong):
    text = "%-24s" % name + "".join("%6s" % cell(tallies.get(key)) for key in READINGS)
    for key in ("dc", "frequency", "level"):
        t = tallies.get(key)
        text += "  %5.2f" % t.moments()[0] if t and len(t.best) > 9 else "      -"
    return text + ("  called " + ", ".join("%s %.1f %%" % (k, 100 * share) for k, share in wrong.items()) if wrong else "")


def faults_of(name, tallies, wrong, trials, scatter=3):
    """What is beyond the goals, each as one line."""
    scenario = scenarios.SCENARIOS[name]
    found = []
    if sum(wrong.values()) > 0.02 + scatter * np.sqrt(0.02 / trials):
        found.append(f"{name}: wrong kind")
    for key, t in tallies.items():
        for what in t.faults(scenario["noisy"], scenario.get("hidden", False), scatter):
            variance = " variance/bound %.2f bias %+.2f" % t.moments() if what in ("variance", "bias") else ""
            found.append(f"{name}: {key}: {what}: held {t.held} of {t.values}, {t.bounded} of {t.belows} bounds,"
                         f" {t.none} withheld{variance}")
    return found


def too_wide(pooled):
    """Of all scenarios where noise dominates together: a few hundred trials can't tell 98.5 % from 100 %."""
    return [f"all: {key}: u95 too wide: held {held} of {values}" for key, (held, values) in pooled.items()
            if values > 300 and held / values > MOST + 2 * np.sqrt(MOST * (1 - MOST) / values)]


def show(names, trials, seed, jobs):
    """The table, a row as it is done; what is beyond the goals."""
    beyond, pooled = [], {}
    print(head())
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            tallies, kinds = run(name, trials, seed, jobs, folder)
            wrong = {k: n / trials for k, n in kinds.items() if k != scenarios.SCENARIOS[name]["kind"]}
            print(row(name, tallies, wrong), flush=True)
            beyond += faults_of(name, tallies, wrong, trials)
            if scenarios.SCENARIOS[name]["noisy"] and not scenarios.SCENARIOS[name].get("hidden"):
                for key, t in tallies.items():
                    held, values = pooled.get(key, (0, 0))
                    pooled[key] = held + t.held, values + t.values
    beyond += too_wide(pooled)
    print("\n".join(beyond))
    print(f"{len(names)} scenarios of {trials} trials: {len(beyond)} beyond the goals")
    return beyond


def main(arguments=None):
    parser = argparse.ArgumentParser(prog="coverage", description=__doc__.split("\n")[0])
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scenario", action="append", help="a part of the name; may be repeated")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args(arguments)
    names = [n for n in scenarios.SCENARIOS if not chosen.scenario or any(part in n for part in chosen.scenario)]
    show(names, chosen.trials, chosen.seed, chosen.jobs)
    return 0


if __name__ == "__main__":
    sys.exit(main())
