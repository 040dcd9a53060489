"""The work that scripts/bench measures: made here, the same bytes every time."""

import math
import os
import struct

import numpy as np

SEED = 20


def tone(n, rate, phase, seed):
    """A sine of 1 kHz with two harmonics, a little hum and noise."""
    t = np.arange(n) / rate
    noise = np.random.default_rng(seed).standard_normal(n)
    return (0.3 * np.sin(2 * np.pi * 1000 * t + phase) + 1e-3 * np.sin(2 * np.pi * 2000 * t) +
            5e-4 * np.sin(2 * np.pi * 3000 * t) + 2e-4 * np.sin(2 * np.pi * 50 * t) + 1e-4 * noise)


def wav(path, rate, channels, seconds):
    """24-bit PCM, a second at a time."""
    frames = rate * seconds
    size = frames * channels * 3
    with open(path, "wb") as file:
        file.write(b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt " +
                   struct.pack("<IHHIIHH", 16, 1, channels, rate, rate * channels * 3, channels * 3, 24) +
                   b"data" + struct.pack("<I", size))
        second = np.column_stack([tone(rate, rate, 0.3 + k, SEED + k) for k in range(channels)])
        data = np.round(second * 8388608).astype("<i4").reshape(-1).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
        for _ in range(seconds):  # whole cycles a second: it goes on without a seam
            file.write(data)


def csv(path, rows, rate=1000000):
    """Time and two channels of an 8-bit scope, 30 bytes a row."""
    block = 100000
    volts = [np.round(3 * tone(block, rate, 0.3 + k, SEED + k) / 0.008) * 0.008 for k in range(2)]
    text = ["%.4f,%.4f\n" % pair for pair in zip(*volts)]
    with open(path, "w", encoding="ascii") as file:
        file.write("Time,CH1,CH2\ns,V,V\n")
        for at in range(0, rows, block):
            file.write("".join("%.8e,%s" % ((at + i) / rate, text[i]) for i in range(min(block, rows - at))))


def chain(folder, points):
    os.makedirs(os.path.join(folder, "captures"), exist_ok=True)
    with open(os.path.join(folder, "chain.ini"), "w", encoding="ascii") as file:
        file.write("[chain]\ntitle = Tarn spring echo\nstimulus = sine 1 kHz 600 mV\ncaptures = captures\n")
        for k in range(points):
            file.write("\n[point P%02d]\n%s" % (k + 1, "stage = wire\n" if k else ""))
            csv(os.path.join(folder, "captures", "P%02d.csv" % (k + 1)), 2500)


def make(folder, full):
    """{name: files}; the sizes of `full` are those that the goals speak of."""
    many, minutes, scopes, long_mb, small, chains = (200, 30, 200, 500, 10000, 100) if full else (12, 2, 10, 40, 300, 6)
    row = 30
    work = {}

    def place(name):
        os.makedirs(os.path.join(folder, name), exist_ok=True)
        return os.path.join(folder, name)

    def copies(name, count, end, write):
        at = place(name)
        first = os.path.join(at, "00000" + end)
        write(first)
        work[name] = [first]
        for k in range(1, count):
            work[name].append(os.path.join(at, "%05d%s" % (k, end)))
            if not os.path.exists(work[name][-1]):
                os.link(first, work[name][-1])

    copies("many-wav", many, ".wav", lambda path: wav(path, 192000, 2, 1))
    copies("many-csv", scopes, ".csv", lambda path: csv(path, 100000))
    copies("small-csv", small, ".csv", lambda path: csv(path, 2500))
    for name, scale in (("long-wav", 1), ("half-wav", 0.5), ("quarter-wav", 0.25)):
        work[name] = [os.path.join(place("long"), name + ".wav")]
        wav(work[name][0], 96000, 1, math.ceil(60 * minutes * scale))
    for name, scale in (("long-csv", 1), ("half-csv", 0.5), ("quarter-csv", 0.25)):
        work[name] = [os.path.join(place("long"), name + ".csv")]
        csv(work[name][0], int(long_mb * 1e6 / row * scale))
    chain(os.path.join(place("chains"), "one"), 12)
    work["chains"] = [os.path.join(folder, "chains", "one", "chain.ini")] * chains
    return work
