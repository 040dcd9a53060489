"""Levels that go and come little by little, as those of a tremolo, of notes and of swells do, are no cut-outs; a contact that
breaks while the level sways a little is one. Sine, saw and square wave, a scope's screen of 2,500 rows up to 20 s of sound. The captures
are simulated: what was put in is the truth."""

import json
import os
import subprocess
import sys
import tempfile

import numpy as np
from scipy.io import wavfile

RATE, LEVEL = 48000, 0.4  # Hz; amplitude re full scale, or V
PROGRAM = os.environ["GAINWALK"]


def wave(t, hertz, kind):
    """A sine, or all harmonics of a saw or a square wave below 20 kHz."""
    if kind == "sine":
        return np.sin(2 * np.pi * hertz * t + 1)
    every = 2 if kind == "square" else 1
    return 0.8 * sum(np.sin(k * (2 * np.pi * hertz * t + 1)) / k for k in range(1, int(20e3 / hertz), every))


def courses(seconds, times):
    """{name: gain over `t`}; `times` of what comes again."""
    def phase(t):
        return times * t / seconds + 0.13

    return {
        "tremolo": lambda t: 0.5 + 0.5 * np.sin(2 * np.pi * phase(t)),
        "shallow tremolo": lambda t: 0.6 + 0.4 * np.sin(2 * np.pi * phase(t)),
        "triangle": lambda t: 0.05 + 0.95 * np.abs(2 * (phase(t) % 1) - 1),
        "notes": lambda t: np.exp(-3 * (phase(t) % 1)),
        "decay": lambda t: np.exp(-3 * t / seconds),
        "attack and decay": lambda t: np.clip(t / seconds / 0.1, 0, 1) * np.exp(-2 * t / seconds),
        "dip": lambda t: 1 - np.exp(-0.5 * ((t / seconds - 0.55) / 0.08)**2),
    }


def write(folder, name, samples, rate, scope):
    if not scope:
        path = os.path.join(folder, name + ".wav")
        wavfile.write(path, rate, np.round(samples * 2**31).astype(np.int32))
        return path
    path = os.path.join(folder, name + ".csv")
    step = 1 / 200
    with open(path, "w", encoding="ascii") as file:
        file.write("s,V\n")
        for k, value in enumerate(np.round(samples / step) * step):
            file.write("%.9g,%.6g\n" % (k / rate, value))
    return path


# seconds, cycles of the level, Hz, kind, as a scope's file
RECORDS = [(0.1, 1.5, 1000, "sine", True), (1, 4, 200, "sine", False), (1, 4, 220, "saw", False), (3, 20, 700, "sine", False),
           (3, 7, 440, "square", False), (20, 7, 1000, "sine", False), (20, 6, 440, "saw", False)]
if os.environ.get("GAINWALK_SANITIZED"):  # slow builds, which look for other faults
    RECORDS = RECORDS[:3]


def cases():
    """(name, gain, record, the cut as begin and length in s or None)."""
    for record in RECORDS:
        seconds, times, _, _, _ = record
        for name, gain in courses(seconds, times).items():
            yield name, gain, record, None
        def sways(t, rate=times / seconds):
            return 0.95 + 0.05 * np.sin(2 * np.pi * rate * t)

        for at in (0.21, 0.37, 0.73):
            yield "sways with a cut", sways, record, (at * seconds, 0.015 * seconds + 3 / record[2])


def captures(folder, rng):
    for number, (name, gain, (seconds, _, hertz, kind, scope), cut) in enumerate(cases()):
        rate = round(2500 / seconds) if scope else RATE
        t = np.arange(int(seconds * rate)) / rate
        samples = LEVEL * wave(t, hertz, kind) * gain(t)
        if cut:
            samples[(t >= cut[0]) & (t < cut[0] + cut[1])] = 0
        samples += rng.normal(0, 1e-4, len(t))
        yield "%s, %s of %g Hz, %g s" % (name, kind, hertz, seconds), write(folder, str(number), samples, rate, scope), cut


def others(folder, rng):
    """What sways or dies away by itself, without an event: a sine with its copy that moves to and fro beside it, and the tail
    of an echo, of noise."""
    for number, (seconds, hertz, turns) in enumerate([(3, 1065, 0.65), (1, 700, 2.5), (3, 900, 1.2), (3, 1300, 0.65)]):
        t = np.arange(int(seconds * RATE)) / RATE
        late = t - 0.005 - 0.002 * np.sin(2 * np.pi * turns * t)
        samples = LEVEL * (0.6 * np.sin(2 * np.pi * hertz * t) + 0.4 * np.sin(2 * np.pi * hertz * late))
        path = write(folder, f"moving{number}", samples + rng.normal(0, 1e-4, len(t)), RATE, False)
        yield f"{hertz} Hz and a copy that moves", path, None
    for number, seconds in enumerate([0.1, 0.1, 0.3, 1]):
        t = np.arange(int(seconds * RATE)) / RATE
        noise = np.convolve(rng.normal(0, 1, len(t)), np.ones(4) / 4, "same")
        samples = LEVEL / 2 * noise * np.exp(-5 * t / seconds)
        yield f"noise that dies away in {seconds} s", write(folder, f"tail{number}", samples, RATE, False), "nothing"


def complaint(told, cut):
    if cut == "nothing":
        return "%s are told" % told["events"] if told["events"] else None

    found = [(event["start_s"], event["length_s"]) for event in told["events"] if event["kind"] == "dropout"]
    remarks = [remark for remark in told["remarks"] if "cuts out" in remark]
    count = told["readings"]["dropouts"].get("value")
    if cut is None and (found or remarks or count != 0):
        return "%s cut-outs are told, at %s; %s" % (count, found, remarks)
    if cut and not any(abs(start - cut[0]) < 0.3 * cut[1] and abs(length - cut[1]) < 0.3 * cut[1] for start, length in found):
        return "the cut at %g of %g s is not among %s" % (*cut, found)
    return None


def main():
    rng = np.random.default_rng(9)
    with tempfile.TemporaryDirectory() as folder:
        made = [*captures(folder, rng), *others(folder, rng)]
        done = subprocess.run([PROGRAM, "measure", "--json", *(path for _, path, _ in made)], capture_output=True, text=True,
                              check=False)
        told = json.loads(done.stdout)["captures"]
    assert len(told) == len(made) > 20
    faults = ["%s: %s" % (name, text) for (name, _, cut), capture in zip(made, told) if (text := complaint(capture, cut))]
    print("\n".join(faults) or f"{len(made)} levels: no cut-out but those put in")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
