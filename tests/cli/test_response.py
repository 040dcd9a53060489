"""gainwalk response: sweeps and noise through filters that SciPy made, gains held against SciPy's freqz."""

import json
import math
import os
import subprocess
import sys
import tempfile
import unittest

import numpy as np
from scipy import signal
from scipy.io import wavfile

PROGRAM = os.environ.get("GAINWALK")
RATE = 48000


class Response(unittest.TestCase):
    def setUp(self):
        self.scratch = tempfile.TemporaryDirectory()
        self.folder = self.scratch.name
        self.run_it("tone", "sweep", "--length", "5s", "--bits", "float", "--quiet", "sweep.wav")
        self.sweep = wavfile.read(os.path.join(self.folder, "sweep.wav"))[1].astype(float)
        # a coupling capacitor and a cable: corners of 80 Hz and 5 kHz, gain 6 dB
        self.filter = signal.bilinear_zpk([0], [-2 * np.pi * 80, -2 * np.pi * 5000], 2 * 2 * np.pi * 5000, RATE)
        self.sos = signal.zpk2sos(*self.filter)

    def tearDown(self):
        self.scratch.cleanup()

    def run_it(self, *words, status=0):
        done = subprocess.run([PROGRAM, *words], cwd=self.folder, capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, status, "%s\n%s%s" % (words, done.stdout, done.stderr))
        return done.stdout + done.stderr

    def write(self, name, values, rate=RATE):
        wavfile.write(os.path.join(self.folder, name), rate, np.asarray(values, dtype=np.float32))

    def check(self, *words, tolerance, low=25, high=18000):
        """Every line against freqz, and the corners against where freqz falls by 3.01 dB re 1 kHz."""
        found = json.loads(self.run_it("response", "--json", *words))
        gains = lambda f: 20 * np.log10(np.abs(signal.freqz_zpk(*self.filter, worN=np.atleast_1d(f), fs=RATE)[1]))
        lines = [line for line in found["lines"] if low <= line["frequency_hz"] <= high]
        self.assertGreater(len(lines), 100)
        for line in lines:
            self.assertAlmostEqual(line["gain_db"], gains(line["frequency_hz"])[0], delta=tolerance, msg=line)
        fine = np.geomspace(10, 20000, 200001)
        falls = gains(fine) - gains(1000)[0] + 10 * math.log10(2)
        edges = fine[:-1][np.sign(falls[1:]) != np.sign(falls[:-1])]
        self.assertAlmostEqual(found["low_hz"] / edges[0], 1, delta=0.01)
        self.assertAlmostEqual(found["high_hz"] / edges[-1], 1, delta=0.01)
        self.assertEqual(found["middle_hz"], 1000)
        return found

    def test_two_channels(self):
        out = signal.sosfilt(self.sos, self.sweep)
        self.write("both.wav", np.stack([self.sweep, out], axis=1))
        found = self.check("both.wav", tolerance=0.05)
        self.assertEqual(found["delay_s"], 0)
        self.assertRegex(self.run_it("response", "both.wav"), r"(?s)gain at 1\.00 kHz: .*lower corner \(-3 dB\): .*upper corner")

    def test_own_file(self):
        """The file that was played, and a recording that begins earlier, ends later, is inverted, and has noise in it."""
        random = np.random.default_rng(3)
        late = np.concatenate([np.zeros(5904), self.sweep, np.zeros(20000)])
        out = -signal.sosfilt(self.sos, late) + random.normal(0, 1e-4, len(late))
        self.write("out.wav", out)
        found = self.check("sweep.wav", "out.wav", tolerance=0.1)
        self.assertAlmostEqual(found["delay_s"], 0.123, delta=2e-4)

    def test_noise(self):
        self.run_it("tone", "white", "--length", "20s", "--bits", "float", "--quiet", "--level", "-20dBFS", "noise.wav")
        noise = wavfile.read(os.path.join(self.folder, "noise.wav"))[1].astype(float)
        self.write("both.wav", np.stack([noise, signal.sosfilt(self.sos, noise)], axis=1))
        self.check("both.wav", tolerance=0.2, low=50)

    def test_flat(self):
        self.write("both.wav", np.stack([self.sweep, 0.5 * self.sweep], axis=1))
        found = json.loads(self.run_it("response", "--json", "both.wav"))
        self.assertNotIn("low_hz", found)
        self.assertNotIn("high_hz", found)
        self.assertAlmostEqual(found["middle_gain_db"], 20 * math.log10(0.5), delta=1e-4)
        frequencies = [line["frequency_hz"] for line in found["lines"]]
        self.assertLess(frequencies[0], 25)
        self.assertGreater(frequencies[-1], 18000)
        self.assertLess(frequencies[-1], 21500)  # nothing is told of where the sweep did not go

    def test_refused(self):
        random = np.random.default_rng(5)
        self.write("holed.wav", np.where(np.arange(len(self.sweep)) == 9, np.nan, self.sweep))
        self.write("over.wav", np.where(np.arange(len(self.sweep)) == 9, np.inf, self.sweep))
        self.write("moment.wav", [0.5])
        self.write("dc.wav", 0 * self.sweep + 0.3)
        self.write("other.wav", random.normal(0, 0.1, RATE))
        self.write("silent.wav", np.stack([self.sweep, 0 * self.sweep], axis=1))
        self.write("slow.wav", self.sweep, 44100)
        for words, expected in ((["sweep.wav"], "one channel"), ([], "given"), (["sweep.wav", "other.wav"], "nothing in common"),
                                (["silent.wav"], "nothing in common"),
                                (["sweep.wav", "moment.wav"], "nothing in common"), (["sweep.wav", "dc.wav"], "nothing in common"),
                                (["sweep.wav", "holed.wav"], "missing"), (["sweep.wav", "over.wav"], "overloaded"), (["sweep.wav", "slow.wav"], "rate"),
                                (["sweep.wav", "nowhere.wav"], "nowhere.wav"), (["a", "b", "c"], "given")):
            self.assertIn(expected, self.run_it("response", *words, status=2))


if __name__ == "__main__":
    if not PROGRAM:
        sys.exit("the program was not built")
    unittest.main()
