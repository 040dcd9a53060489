"""Signals whose lines fall near those of the mains, and no mains in them: nothing of theirs is taken for hum. Levels are
closed forms: RMS of a sine A/sqrt 2, of a square A, of a saw A/sqrt 3 (a saw sampled without a filter folds; what that
adds is below a per cent here), of two tones the root of the sum of squares."""

import math
import os
import tempfile

import beside
from beside import claim

import numpy as np
from scipy import signal


def measure(folder, name, samples, rate, *options):
    step = 4 * np.max(np.abs(samples)) / 256
    codes = np.round(samples / step + np.random.default_rng(1).normal(0, 0.3, len(samples)))
    path = beside.write_csv(os.path.join(folder, name + ".csv"), codes * step, rate)
    return beside.measure("--accuracy", "0%", *options, path)[0]


def check(folder, name, told, level, frequency):
    readings = told["readings"]
    got = readings["level"].get("value", math.nan)
    claim(abs(got / level - 1) < 0.01, "%s: level %.4g, truth %.4g" % (name, got, level))
    claim(abs(readings["frequency"].get("value", math.nan) / frequency - 1) < 1e-3,
          "%s: frequency %s" % (name, readings["frequency"]))
    hum = readings["hum"].get("value", 0)
    claim(hum < 0.02 * level, "%s: hum %.4g of nothing" % (name, hum))


SHAPES = {
    "square": (lambda turn: signal.square(turn), 1.0),
    "saw": (lambda turn: signal.sawtooth(turn), 1 / math.sqrt(3)),
    "second": (lambda turn: 0.1 * np.sin(turn) + np.sin(2 * turn + 1), math.sqrt((0.01 + 1) / 2)),
}


def check_notes(folder):
    """Low notes, of a fundamental or with harmonics near 50, 100, 150, 120, 180 Hz."""
    for shape, (make, rms) in SHAPES.items():
        for frequency in (49.47, 74.83, 75.54, 37.6, 59.3, 98.3, 146.9):
            for count, cycles in ((5000, 22.4), (2500, 12.6), (10000, 31.3)):
                rate = count * frequency / cycles
                turn = 2 * np.pi * frequency * np.arange(count) / rate + 0.7
                name = "%s of %g Hz, %g cycles" % (shape, frequency, cycles)
                # a weak fundamental where the mains may be is told by the stimulus alone
                hidden = shape == "second" and frequency not in (37.6, 74.83, 75.54)
                for stated in (() if not hidden else None, ("--mains", "50Hz", "--stimulus", "periodic %gHz" % frequency)):
                    if stated is None:
                        continue
                    told = measure(folder, "a", make(turn), rate, *stated)
                    check(folder, name + (", stated" if stated else ""), told, rms, frequency)


def check_pair(folder):
    """The intermodulation pair of 60 Hz and 7 kHz, four to one, in records in which 50 and 60 Hz are hardly apart."""
    for seconds in (0.05, 0.1, 0.13, 0.2):
        for phase in (0.0, 1.0, 2.5):
            rate, count = 50000, int(50000 * seconds)
            t = np.arange(count) / rate
            samples = np.sin(2 * np.pi * 60 * t + phase) + 0.25 * np.sin(2 * np.pi * 7000 * t)
            told = measure(folder, "b", samples, rate, "--mains", "50Hz", "--stimulus", "two-tone 60Hz 7kHz")
            check(folder, "60 Hz and 7 kHz, %g s" % seconds, told, math.sqrt((1 + 0.0625) / 2), 60)


def check_stated_near_twice_the_mains(folder):
    """A stated sine a little beside 100 or 120 Hz under hum of three times its level, whose second line hides it in half
    a second: the mains is never told for it. Where the fit can't part them there may be no frequency."""
    rate, count = 10000, 5000
    t = np.arange(count) / rate
    for mains, frequency in ((50, 98.4), (50, 98.9), (50, 101.5), (60, 118.1), (60, 122.0)):
        for phase in (0.0, 1.0, 2.0, 3.0):
            hum = 3 * np.cos(2 * np.pi * mains * t + 2 * phase) + 0.9 * np.cos(4 * np.pi * mains * t - phase)
            told = measure(folder, "c", np.cos(2 * np.pi * frequency * t + phase) + hum, rate, "--stimulus",
                           "sine %g Hz" % frequency)
            got = told["readings"]["frequency"].get("value", frequency)
            claim(abs(got / frequency - 1) < 0.03, "%g Hz stated beside %g Hz: frequency %.4g" % (frequency, mains, got))


def main():
    with tempfile.TemporaryDirectory() as folder:
        check_notes(folder)
        check_pair(folder)
        check_stated_near_twice_the_mains(folder)
    beside.end()


main()
