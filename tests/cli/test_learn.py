"""gainwalk learn: what comes out of known-good units, held against SciPy; and the whole circle, learnt file walked again."""

import math
import os
import re
import subprocess
import sys
import tempfile
import unittest

import numpy as np
from scipy import integrate, optimize, stats
from scipy.io import wavfile

PROGRAM = os.environ.get("GAINWALK")
CONTENT, CONFIDENCE = 0.99, 0.95


def one_sided(n):
    """k of an upper tolerance limit, by SciPy's noncentral t."""
    z = stats.norm.ppf(CONTENT)
    return stats.nct.ppf(CONFIDENCE, n - 1, z * math.sqrt(n)) / math.sqrt(n)


def two_sided(n):
    """k of a tolerance interval, by SciPy's integration of the definition."""
    means = np.linspace(0, 8 / math.sqrt(n), 401)
    widths = np.array([optimize.brentq(lambda r: stats.norm.cdf(mean + r) - stats.norm.cdf(mean - r) - CONTENT, 0, 60)
                       for mean in means])
    weights = 2 * stats.norm.pdf(means, scale=1 / math.sqrt(n))
    confidence = lambda k: integrate.simpson(stats.chi2.sf((n - 1) * (widths / k) ** 2, n - 1) * weights, x=means)
    return optimize.brentq(lambda k: confidence(k) - CONFIDENCE, 1, 200, xtol=1e-7)


class Learn(unittest.TestCase):
    def setUp(self):
        self.scratch = tempfile.TemporaryDirectory()
        self.folder = self.scratch.name

    def tearDown(self):
        self.scratch.cleanup()

    def write(self, name, text):
        os.makedirs(os.path.dirname(os.path.join(self.folder, name)), exist_ok=True)
        with open(os.path.join(self.folder, name), "w", encoding="utf-8") as file:
            file.write(text)

    def run_it(self, *words, status=0):
        done = subprocess.run([PROGRAM, *words], cwd=self.folder, capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, status, "%s\n%s%s" % (words, done.stdout, done.stderr))
        return done

    def learn(self, *words):
        self.said = self.run_it("learn", *words, "--output", "-").stdout
        return self.said

    def value(self, section, key):
        """What stands behind `key =` in a section, comment included; None where there is none."""
        body = re.search(r"^\[%s\]\n((?:(?!\[).*\n)*)" % re.escape(section), self.said, re.MULTILINE).group(1)
        found = re.search(r"^%s +=(.*)$" % key, body, re.MULTILINE)
        return found.group(1).strip() if found else None

    def interval(self, section, key, unit):
        found = re.match(r"(-?[\d.]+) %s ± ([\d.]+) %s " % (unit, unit), self.value(section, key))
        return float(found.group(1)), float(found.group(2))

    def meters(self, readings, error="0.0001 %"):
        """A chain file a unit, a rail with a meter's reading each."""
        names = []
        for i, reading in enumerate(readings):
            names.append("unit%d.ini" % i)
            self.write(names[-1], "[point A]\n[rail V]\nreading = %s ± %s\ndc = 15 V ± 5 %%\n" % (reading, error))
        return names

    def test_factors(self):
        """DC of a rail, from meters whose own error is nothing: k standard deviations."""
        values = [15.02, 14.97, 15.05, 15.01, 14.93, 15.04, 14.99, 15.08, 15.0, 14.96]
        for count in (2, 3, 5, 10):
            names = self.meters(["%g V" % value for value in values[:count]])
            self.learn(names[0], *names)
            middle, width = self.interval("rail V", "dc", "V")
            expected = two_sided(count) * np.std(values[:count], ddof=1)
            self.assertAlmostEqual(middle, np.mean(values[:count]), delta=0.01 * expected)
            self.assertAlmostEqual(width, expected, delta=0.02 * expected)  # of three digits, rounded up
            self.assertGreaterEqual(width, 0.9999 * expected)
            self.assertIn("learnt from %d units" % count, self.value("rail V", "dc"))

    def test_never_tighter_than_the_uncertainty(self):
        names = self.meters(["15 V", "15 V", "15 V"], "0.5 %")
        self.learn(names[0], *names)
        middle, width = self.interval("rail V", "dc", "V")
        self.assertAlmostEqual(middle, 15, delta=1e-6)
        # a meter's 0.5 % either way is rectangular, expanded 2/sqrt(3) (JCGM 100, 4.3.7): 86.6 mV; and twice that
        self.assertAlmostEqual(width, 0.1732, delta=0.001)
        self.assertIn("uncertainty", self.value("rail V", "dc"))

    def test_one_unit(self):
        names = self.meters(["15.06 V"])
        self.learn(*names)
        middle, width = self.interval("rail V", "dc", "V")
        self.assertAlmostEqual(middle, 15.06, delta=0.01)
        self.assertAlmostEqual(width, 0.75, delta=0.001)  # the chain's own 5 % of 15 V
        self.assertIn("learnt from 1 unit;", self.value("rail V", "dc"))
        self.write("a.ini", "[point A]\nreading = 20 mV ± 1 %\n")
        self.run_it("learn", "a.ini", status=2)
        self.assertEqual([name for name in os.listdir(self.folder) if "learnt" in name], [])

    CHAIN = """# my own words stay
[chain]
stimulus = sine 997 Hz 100 mV
captures = %s
[instrument]
full_scale = 2 V
[point IN]
[point U1]
gain = 20 dB ± 3 dB   ; by the book
what = first stage
[point OUT]
"""

    def unit(self, name, gains, thd, noise=1e-4, seed=1, chain=None):
        """A unit's captures: sine, second harmonic, white noise; its chain file."""
        rate, n = 48000, 24000
        random = np.random.default_rng(seed)
        t = np.arange(n) / rate
        os.makedirs(os.path.join(self.folder, name), exist_ok=True)
        level = 0.1
        for point, gain in zip(("IN", "U1", "OUT"), [1] + gains):
            level *= gain
            v = level * math.sqrt(2) * (np.sin(2 * np.pi * 997 * t) + (thd if point != "IN" else 1e-5) *
                                        np.cos(2 * np.pi * 1994 * t))
            v += random.normal(0, noise * level / 0.1, n)
            wavfile.write(os.path.join(self.folder, name, point + ".wav"), rate, (v / 2).astype(np.float32))
        self.write(name + ".ini", (chain or self.CHAIN) % name)
        return name + ".ini"

    def test_whole_circle(self):
        gains = [(9.9, 0.50), (10.1, 0.51), (10.0, 0.495), (10.05, 0.505)]
        thds = [1.0e-3, 1.3e-3, 0.9e-3, 1.1e-3]
        records = []
        for i, (pair, thd) in enumerate(zip(gains, thds)):
            name = self.unit("good%d" % i, list(pair), thd, seed=i)
            self.run_it("walk", "--quiet", "--save", "good%d.json" % i, name)
            records.append("good%d.json" % i)
        template = "good0.ini"
        text = self.learn(template, *records)
        # gains: decibels, k of four
        for column, point in ((0, "U1"), (1, "OUT")):
            decibels = [20 * math.log10(pair[column]) for pair in gains]
            middle, width = self.interval("point " + point, "gain", "dB")
            self.assertAlmostEqual(middle, np.mean(decibels), delta=0.011)
            self.assertAlmostEqual(width, two_sided(4) * np.std(decibels, ddof=1), delta=0.015)
        # distortion: one-sided, in decibels
        logs = np.log(thds)
        limit = math.exp(np.mean(logs) + one_sided(4) * np.std(logs, ddof=1))
        found = float(re.match(r"< ([\d.]+) %", self.value("point OUT", "thd")).group(1)) / 100
        self.assertAlmostEqual(found, limit, delta=0.15 * limit)
        self.assertIsNotNone(self.value("point U1", "noise"))
        # nothing else is touched
        self.assertIn("# my own words stay\n[chain]\nstimulus = sine 997 Hz 100 mV\n", text)
        self.assertIn("\n# was: gain = 20 dB ± 3 dB   ; by the book\nwhat = first stage\n", text)
        self.assertIn("good0.json, good1.json, good2.json, good3.json", text.splitlines()[0])
        # the learnt file walks: another good unit is in order, one with half the gain is not
        self.run_it("learn", template, *records, "--output", "learnt.ini")
        with open(os.path.join(self.folder, "learnt.ini"), encoding="utf-8") as file:
            learnt = file.read().replace("captures = good0", "captures = %s").replace(" 99 %", " 99 %%").replace(" 95 %", " 95 %%")
        learnt = re.sub(r"(\d) %(?!%)", r"\1 %%", learnt)
        self.run_it("walk", self.unit("another", [9.97, 0.502], 1.05e-3, seed=9, chain=learnt))
        bad = self.run_it("walk", self.unit("bad", [5.0, 0.502], 1.05e-3, seed=10, chain=learnt), status=1)
        self.assertIn("Between IN and U1", " ".join(bad.stdout.split()))
        worn = self.run_it("walk", self.unit("worn", [10.0, 0.502], 2e-2, seed=11, chain=learnt), status=1)
        self.assertIn("U1", worn.stdout.split("\n")[0])

    def test_group(self):
        """Siblings of one unit teach each other; one that is off teaches nobody."""
        levels = {"V1": 0.100, "V2": 0.102, "V3": 0.099, "V4": 0.101, "V5": 0.030}
        chain = "[chain]\nstimulus = sine 997 Hz 100 mV\ncaptures = c\n[instrument]\nfull_scale = 2 V\n[point IN]\n"
        chain += "".join("[point %s]\nafter = IN\ngain = 0 dB ± 3 dB\ngroup = voices\n" % name for name in levels)
        self.write("a.ini", chain)
        os.makedirs(os.path.join(self.folder, "c"))
        for name, level in dict(levels, IN=0.1).items():
            self.run_it("tone", "--level", "%gV" % level, "--full-scale", "2V", "--length", "0.5s", "--fade", "0s", "--quiet",
                        "c/%s.wav" % name)
        done = self.run_it("learn", "a.ini", "--output", "-")
        self.said = done.stdout
        self.assertIn("taken for good, though", done.stderr)
        decibels = [20 * math.log10(level / 0.1) for name, level in levels.items() if name != "V5"]
        middle, width = self.interval("point V1", "gain", "dB")
        self.assertAlmostEqual(middle, np.mean(decibels), delta=0.011)
        self.assertAlmostEqual(width, two_sided(4) * np.std(decibels, ddof=1), delta=0.015)
        self.assertIn("learnt from 1 unit, 4 samples", self.value("point V1", "gain"))

    def test_kept_and_refused(self):
        names = self.meters(["15 V", "15.1 V"])
        self.write("mine.ini", "precious\n")
        for words, expected in ((("learn",), "no chain file"), (("learn", "nowhere.ini"), "nowhere.ini"),
                                (("learn", names[0], "nowhere.json"), "nowhere.json"), (("learn", "-"), "file"),
                                (("learn", names[0], "--output", "mine.ini"), "exists already")):
            self.assertIn(expected, self.run_it(*words, status=2).stderr)
        with open(os.path.join(self.folder, "mine.ini"), encoding="utf-8") as file:
            self.assertEqual(file.read(), "precious\n")
        self.learn(names[0], *names)
        # a meter's reading belongs to the unit it was taken at
        self.assertIn("# was: reading = 15 V", self.said)


if __name__ == "__main__":
    if not PROGRAM:
        sys.exit("the program was not built")
    unittest.main()
