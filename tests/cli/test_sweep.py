"""A sweep through simulated chains: corners by the closed form of an RC, highs and lows lost where they are, and no
fault where a filter is declared."""
import json
import math
import os
import subprocess
import sys
import tempfile
import wave

import numpy as np
from scipy import signal

PROGRAM = os.environ["GAINWALK"]
RATE = 48000
failures = []


def check(holds, what):
    if not holds:
        failures.append(what)


def near(value, wanted, what, asked, tight):
    """Within what is asked, and as near as it was."""
    check(abs(value - wanted) < asked, f"{what}: {value}, {wanted} asked")
    check(abs(value - wanted) < tight, f"{what}: {value}, no longer {wanted} as near as it was")


def run(*words):
    return subprocess.run([PROGRAM, *words], capture_output=True, text=True)


def write(path, *channels, rate=RATE):
    steps = np.clip(np.round(np.stack(channels, 1) * 2**15), -(2**15), 2**15 - 1).astype("<i2")
    with wave.open(path, "wb") as out:
        out.setnchannels(len(channels))
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes(steps.tobytes())


def through(values, transfer):
    """The values through a network with the given transfer function of s, exactly, by its spectrum."""
    length = 1 << int(math.ceil(math.log2(2 * len(values))))
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    hertz[0] = 1e-9
    return np.fft.irfft(np.fft.rfft(values, length) * transfer(2j * math.pi * hertz), length)[: len(values) + RATE // 2]


def low_pass(corner_hz):
    return lambda s: 1 / (1 + s / (2 * math.pi * corner_hz))


def high_pass(corner_hz):
    return lambda s: s / (s + 2 * math.pi * corner_hz)


def flat(s):
    return 1 + 0 * s


def sweep():
    """A logarithmic sweep of SciPy's own, 20 Hz to 20 kHz in 2 s, softly begun and ended."""
    time = np.arange(2 * RATE) / RATE
    return 0.1 * signal.chirp(time, 20, time[-1], 20000, "logarithmic", phi=-90) * signal.windows.tukey(len(time), 0.01)


def record(values, delay, seed):
    out = np.random.default_rng(seed).normal(0, 3e-5, len(values) + delay + 4000)
    out[delay : delay + len(values)] += values
    return out


CHAIN = """[chain]
sweep = sweep.wav
[point J1]
[point C9]
stage = coupling c=100n load=47k
[point F1]
stage = lowpass r=10k c=1n
[point OUT]
stage = follower
"""


def build(folder, last=flat, coupling=high_pass(1 / (2 * math.pi * 47e3 * 100e-9)), chain=CHAIN, dead=False):
    played = sweep()
    write(os.path.join(folder, "sweep.wav"), played)
    filter_hz = 1 / (2 * math.pi * 10e3 * 1e-9)
    values = played
    for seed, (name, transfer) in enumerate(
        (("J1", flat), ("C9", coupling), ("F1", low_pass(filter_hz)), ("OUT", last))
    ):
        values = through(values, transfer)[: 3 * RATE]
        if dead and name == "OUT":
            values = 0 * values
        write(os.path.join(folder, name + ".wav"), record(values, 1000 + 777 * seed, seed))
    path = os.path.join(folder, "chain.ini")
    with open(path, "w") as out:
        out.write(chain)
    return path


def judged(path):
    done = run("walk", "--json", path)
    check(done.stderr == "", "silent: " + done.stderr)
    return done.returncode, json.loads(done.stdout)["chains"][0]


def stage_to(chain, name):
    return next(stage for stage in chain["stages"] if stage["to"] == name)


def corner(chain, name, key):
    return stage_to(chain, name)["response"][key]


def codes(chain):
    return [(finding["code"], finding["to"]) for finding in chain["findings"]]


def healthy(folder):
    path = build(folder)
    status, chain = judged(path)
    check(status == 0 and not chain["findings"], f"a healthy chain with its filters declared: {status} {codes(chain)}")
    # corner of an RC: f = 1/(2 pi R C); -3.01 dB re 1 kHz, where a first-order stage has fallen by |H(1 kHz)| itself
    lower = 1 / (2 * math.pi * 47e3 * 100e-9)
    there = 1 / (1 + (lower / 1000) ** 2)
    exact = lower / math.sqrt(2 / there - 1)
    near(corner(chain, "C9", "low_corner")["value"] / exact, 1, "lower corner of the coupling", 0.02, 0.003)
    upper = 1 / (2 * math.pi * 10e3 * 1e-9)
    there = 1 / (1 + (1000 / upper) ** 2)
    exact = upper * math.sqrt(2 / there - 1)
    found = corner(chain, "F1", "high_corner")
    near(found["value"] / exact, 1, "upper corner of the filter", 0.02, 0.001)
    near(found["expected"] / exact, 1, "expected upper corner of the filter", 0.02, 1e-4)
    check("value" not in corner(chain, "OUT", "high_corner"), "a follower has no corner")
    for line in stage_to(chain, "F1")["response"]["lines"]:
        wanted = -10 * math.log10(1 + (line["frequency_hz"] / upper) ** 2)
        if 30 < line["frequency_hz"] < 18000:
            near(line["gain_db"], wanted, f"gain at {line['frequency_hz']}", 0.05, 0.003)
    gain = stage_to(chain, "OUT")["gain"]
    near(gain["value"], 0, "gain of the follower", 0.05, 0.005)
    check(gain["status"] == "ok", "the follower is in order")
    text = run("walk", path).stdout
    check("Response" in text and "upper corner 16.0 kHz, expected 16.0 kHz" in text, "text: " + text)
    reports(folder, path)


def reports(folder, path):
    kept, page = os.path.join(folder, "kept.json"), os.path.join(folder, "page.html")
    check(run("walk", path, "--save", kept, "--html", page).returncode == 0, "saved")
    for name in ("sweep", "J1", "C9", "F1", "OUT"):
        os.remove(os.path.join(folder, name + ".wav"))
    with open(page) as whole:
        text = whole.read()
    check("Response against frequency" in text and "16.0 kHz" in text, "page")
    again = run("compare", kept, kept)
    check(again.returncode == 0, "compared with itself: " + again.stdout + again.stderr)


def faults(folder):
    status, chain = judged(build(folder, last=low_pass(3000)))
    check(status == 1 and codes(chain) == [("highs-lost", "OUT")], f"highs lost: {status} {codes(chain)}")
    status, chain = judged(build(folder, coupling=high_pass(300)))
    check(status == 1 and codes(chain)[:1] == [("lows-lost", "C9")], f"lows lost: {status} {codes(chain)}")
    status, chain = judged(build(folder, dead=True))
    check(status == 1 and codes(chain) == [("signal-lost", "OUT")], f"dead: {status} {codes(chain)}")


def stated(folder):
    """A stage that states where it is flat is judged there, and nowhere else."""
    amp = CHAIN.replace("stage = follower", "stage = amp\ngain = 0 dB\nresponse = 50 Hz .. 2.5 kHz")
    status, chain = judged(build(folder, last=low_pass(3500), chain=amp))
    check(status == 0, f"declared: {status} {codes(chain)}")
    status, chain = judged(build(folder, last=low_pass(3500), chain=amp.replace("2.5 kHz", "15 kHz")))
    check(status == 1 and codes(chain) == [("highs-lost", "OUT")], f"not as declared: {status} {codes(chain)}")


def two_channels(folder):
    """What is fed in on channel 1 of every capture."""
    played = sweep()
    for name, values in (("J1", played), ("OUT", through(played, low_pass(2000))[: len(played)])):
        write(os.path.join(folder, name + ".wav"), played, values)
    path = os.path.join(folder, "two.ini")
    with open(path, "w") as out:
        out.write("[chain]\nstimulus = sweep\n[instrument]\nreference = 1\n[point J1]\n[point OUT]\nstage = wire\n")
    status, chain = judged(path)
    check(status == 1 and ("highs-lost", "OUT") in codes(chain), f"two channels: {status} {codes(chain)}")
    # the first point already stands behind a stage: what is fed in is all there is to compare it with
    with open(path, "w") as out:
        out.write("[chain]\nstimulus = sweep\n[instrument]\nreference = 1\n[point OUT]\nstage = wire\n")
    status, chain = judged(path)
    check(status == 1 and codes(chain) == [("highs-lost", "OUT")], f"from the reference: {status} {codes(chain)}")


def refused(folder):
    path = build(folder)
    write(os.path.join(folder, "F1.wav"), sweep(), rate=44100)
    done = run("walk", path)
    check(done.returncode == 2 and "not that of the stimulus" in " ".join(done.stdout.split()), "rates: " + done.stdout)
    os.remove(os.path.join(folder, "sweep.wav"))
    check(run("walk", path).returncode == 2, "the played file is missing")
    with open(path, "w") as out:
        out.write("[chain]\nstimulus = sweep\n[point A]\n")
    done = run("walk", path)
    check(done.returncode == 2 and "chain.ini:2: a sweep tells nothing without" in done.stderr, done.stderr)
    with open(path, "w") as out:
        out.write("[chain]\nstimulus = sine 1 kHz\nsweep = sweep.wav\n[point A]\n")
    done = run("walk", path)
    check(done.returncode == 2 and "chain.ini:3: 'sweep' names what was played" in done.stderr, done.stderr)


for part in (healthy, faults, stated, two_channels, refused):
    with tempfile.TemporaryDirectory() as scratch:
        part(scratch)
for failure in failures:
    print(failure)
sys.exit(1 if failures else 0)
