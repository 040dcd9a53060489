"""Channels that a recorder takes in turn: each has a value in every second, third … row only.

Expected values are closed forms: a square of height h has an RMS of h, a saw from -h to h of h/sqrt(3), a sine of h/sqrt(2)."""

import json
import math
import os
import random
import struct
import subprocess
import sys
import tempfile
import unittest

PROGRAM = os.environ.get("GAINWALK")


def square(turns, height):
    return height if turns % 1 < 0.5 else -height


def saw(turns, height):
    return height * (2 * (turns % 1) - 1)


def sine(turns, height):
    return height * math.sin(2 * math.pi * turns)


WAVES = ((square, 1.0), (saw, 1 / math.sqrt(3)), (sine, 1 / math.sqrt(2)))


class InTurn(unittest.TestCase):
    def setUp(self):
        self.rng = random.Random(12)
        self.folder = tempfile.TemporaryDirectory(prefix="gainwalk-turn-")
        self.addCleanup(self.folder.cleanup)

    def measured(self, path, *words):
        done = subprocess.run([PROGRAM, "measure", "--json", "--jobs", "2", *words, path], capture_output=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)["captures"]

    def table(self, rows, rate_hz, channels):
        """`channels`: a function of time for each; row i holds a value of channel i % their number."""
        path = os.path.join(self.folder.name, "turn.csv")
        with open(path, "w", encoding="ascii") as file:
            file.write("time (s)," + ",".join("CH%d (V)" % (k + 1) for k in range(len(channels))) + "\n")
            for i in range(rows):
                cells = ["%.5f" % (of(i / rate_hz) + self.rng.gauss(0, 1e-4)) if i % len(channels) == k else ""
                         for k, of in enumerate(channels)]
                file.write("%.6f,%s\n" % (i / rate_hz, ",".join(cells)))
        return path

    def sound(self, samples):
        path = os.path.join(self.folder.name, "turn.wav")
        data = struct.pack("<%df" % len(samples), *samples)
        heading = b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 3, 1, 48000, 192000, 4, 32)
        body = heading + b"data" + struct.pack("<I", len(data)) + data
        with open(path, "wb") as file:
            file.write(b"RIFF" + struct.pack("<I", len(body)) + body)
        return path

    def check(self, capture, rate_hz, frequency_hz, rms):
        readings = capture["readings"]
        self.assertAlmostEqual(capture["rate_hz"] / rate_hz, 1, delta=1e-6)
        self.assertAlmostEqual(readings["frequency"]["value"] / frequency_hz, 1, delta=1e-4)
        self.assertAlmostEqual(readings["level"]["value"] / rms, 1, delta=0.005)
        self.assertTrue(any("one row of" in remark for remark in capture["remarks"]), capture["remarks"])

    def test_two_and_three_channels(self):
        for count in (2, 3):
            channels = [lambda t, k=k: WAVES[k][0](113.7 * t + 0.1 * k, 0.5) for k in range(count)]
            captures = self.measured(self.table(6000, 20e3, channels))
            self.assertEqual(len(captures), count)
            for k, capture in enumerate(captures):
                self.check(capture, 20e3 / count, 113.7, 0.5 * WAVES[k][1])

    def test_one_against_the_other(self):
        """Gain, phase and delay from the first to the others: a tenth, an eighth of a turn late, whichever rows they have."""
        for count in (2, 3, 5):
            channels = [lambda t, k=k: sine(1013.7 * t - (0.125 if k else 0), 0.05 if k else 0.5) for k in range(count)]
            captures = self.measured(self.table(9000, 50e3, channels), "--reference", "1")
            for capture in captures[1:]:
                pair = capture["reference"]
                self.assertAlmostEqual(pair["gain"]["value"], -20, delta=0.01)
                self.assertLess(abs(pair["gain"]["value"] + 20), 1.5 * pair["gain"]["u95"])
                self.assertAlmostEqual(pair["phase_deg"], -45, delta=0.1)
                self.assertAlmostEqual(pair["frequency_hz"], 1013.7, delta=0.01)

    def test_some_of_its_values_missing(self):
        for n in (20000, 300000):
            for wave, rms in WAVES:
                samples = [wave(i * 441.3 / 48e3, 0.4) + self.rng.gauss(0, 1e-4)
                           if i % 4 == 1 and self.rng.random() > 0.001 else math.nan for i in range(n)]
                self.check(self.measured(self.sound(samples))[0], 12e3, 441.3, 0.4 * rms)

    def test_beside_a_long_channel(self):
        """A channel that is one piece by itself, before and behind one of several pieces (of 131072 values), and threads."""
        for first in (0, 1):
            path = os.path.join(self.folder.name, "long.csv")
            with open(path, "w", encoding="ascii") as file:
                file.write("time (s),CH1 (V),CH2 (V)\n")
                for i in range(150000):
                    cells = ["%.4f" % sine(i * 1e-5 * 441.3, 0.5), "%.4f" % sine(i * 1e-5 * 113.7, 0.5) if i % 4 == 3 else ""]
                    file.write("%.5f,%s,%s\n" % (i * 1e-5, cells[first], cells[1 - first]))
            captures = self.measured(path)
            self.check(captures[1 - first], 25e3, 113.7, 0.5 / math.sqrt(2))
            self.assertAlmostEqual(captures[first]["readings"]["frequency"]["value"], 441.3, delta=0.001)
            self.assertEqual(captures[first]["samples"], 150000)

    def test_values_here_and_there_are_no_pattern(self):
        samples = [sine(i * 997 / 48e3, 0.4) if self.rng.random() < 0.3 else math.nan for i in range(20000)]
        capture = self.measured(self.sound(samples))[0]
        self.assertEqual(capture["rate_hz"], 48000)
        self.assertFalse(any("one row of" in remark for remark in capture["remarks"]))


if __name__ == "__main__":
    if PROGRAM is None:
        sys.exit("GAINWALK must be set")
    unittest.main()
