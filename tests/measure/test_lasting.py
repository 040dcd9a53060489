"""A signal that is gone for longer than a part of a long capture shows, or of another level from a moment on: what the
program tells is held against what was put in. Parts are of 2^17 samples at most, here of 10 to 16 s."""

import json
import os
import subprocess
import sys
import tempfile

import numpy as np
from scipy.io import wavfile

RATE = 8000
LEVEL = 0.4  # amplitude re full scale


def measured(samples):
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "long.wav")
        wavfile.write(path, RATE, np.round(samples * 32768).astype(np.int16))
        done = subprocess.run([os.environ["GAINWALK"], "measure", "--json", "--jobs", "1", path], capture_output=True,
                              text=True)
    return json.loads(done.stdout)["captures"][0]


def tone(seconds, gains, rng, hertz=997.3):
    """A sine with (from, to, gain), to in seconds."""
    t = np.arange(int(seconds * RATE)) / RATE
    volts = LEVEL * np.sin(2 * np.pi * hertz * t)
    for begin, end, gain in gains:
        volts[int(begin * RATE):int(end * RATE)] *= gain
    return volts + rng.normal(0, 1e-4, len(t))


def check(name, told, gaps, level, faults):
    """Gaps (from, length) are told, each as one, with its times; nothing else; the level is that beside them."""
    found = [(e["start_s"], e["length_s"]) for e in told["events"] if e["kind"] == "dropout"]
    others = [e for e in told["events"] if e["kind"] != "dropout"]
    count = told["readings"]["dropouts"].get("value")
    near = len(found) == len(gaps) and all(abs(a - c) < 2e-3 and abs(b - d) < 4e-3
                                           for (a, b), (c, d) in zip(found, gaps))
    if count != len(gaps) or not near or others:
        faults.append("%s: %s dropouts %s, others %s, put in %s" % (name, count, found, others, gaps))
    value = told["readings"]["level"]["value"]
    if level and abs(value / (LEVEL / np.sqrt(2)) - 1) > 1e-4:
        faults.append("%s: level %g, not %g" % (name, value, LEVEL / np.sqrt(2)))


def gone(rng, faults):
    cases = {
        "most of one part": (45, [(13, 20.5)]),
        "several parts": (200, [(41.3, 83.7)]),
        "from one part into the next": (45, [(8, 14)]),
        "twice, and briefly": (200, [(20, 45), (60, 60.2), (110, 150)]),
        "until the end": (90, [(50, 90)]),
        "from the begin": (90, [(0, 33)]),
    }
    for name, (seconds, spans) in cases.items():
        for gain in (0, 0.05, 0.3):
            if gain > 0.1 and (spans[0][0] == 0 or spans[-1][1] == seconds):
                continue  # another level, then, not none
            told = measured(tone(seconds, [(a, b, gain) for a, b in spans], rng))
            check("%s, gain %g" % (name, gain), told, [(a, b - a) for a, b in spans], True, faults)


def another_level(rng, faults):
    for decibels in (-10, -6, 6):
        gain = 10**(decibels / 20)
        quieter = min(1, 1 / gain)
        told = measured(quieter * tone(60, [(21.3, 60, gain)], rng))
        check("%g dB from a moment on" % decibels, told, [], False, faults)
        remark = [r for r in told["remarks"] if "stays so" in r]
        if len(remark) != 1 or "21.3" not in remark[0] or "(%g" % decibels not in remark[0].replace("6.02", "6"):
            faults.append("%g dB from a moment on: %s" % (decibels, told["remarks"]))


def in_one_piece(rng, faults):
    """A capture of two seconds: half a level from the middle on is less than a gap, and the level is neither."""
    told = measured(tone(2, [(1, 2, 0.52)], rng))
    level, highest = told["readings"]["level"], LEVEL / np.sqrt(2)
    if not any("stays so" in r for r in told["remarks"]):
        faults.append("one piece: %s" % told["remarks"])
    if max(highest - level["value"], level["value"] - 0.52 * highest) > 1.001 * level["u95"]:
        faults.append("one piece: %s reaches not to %g and %g" % (level, highest, 0.52 * highest))
    for seconds, at in ((2, 1.03), (60, 31)):
        told = measured(tone(seconds, [], rng) + 0.55 * (np.arange(seconds * RATE) > at * RATE))
        faults += ["a step of DC: %s" % r for r in told["remarks"] if "stays so" in r]


def nothing_gone(rng, faults):
    """What goes slowly is no cut."""
    t = np.arange(60 * RATE) / RATE
    sine = tone(60, [], rng)
    cases = {
        "steady": sine,
        "a fade": sine * np.exp(-t / 20),
        "soft ends": sine * np.clip(np.minimum(t - 14, 51 - t) / 0.1, 0, 1),
        "down and up again": sine * np.clip(np.abs(t - 30) / 8, 0, 1),
        "a slow change of 1.5 dB": sine * (0.92 + 0.08 * np.tanh((t - 30) / 2)),
        "a slow change of 3 dB": sine * (0.85 - 0.15 * np.tanh((t - 20) / 1)),
    }
    t = np.arange(2 * RATE) / RATE
    cases["a slow change in one piece"] = tone(2, [], rng) * (0.9 + 0.1 * np.tanh((t - 1.1) / 0.04))
    for name, samples in cases.items():
        told = measured(samples)
        check(name, told, [], False, faults)
        faults += ["%s: %s" % (name, r) for r in told["remarks"] if "stays so" in r or "cuts out" in r]


def main():
    rng = np.random.default_rng(20)
    faults = []
    gone(rng, faults)
    another_level(rng, faults)
    in_one_piece(rng, faults)
    nothing_gone(rng, faults)
    print("\n".join(faults) or "long gaps: one each, with their times")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
