"""Ways to use a command wrongly, one row each: status 2, nothing on standard output, and a sentence that tells what was wrong
and names it. Beside them ways that look alike and are right."""

import math
import os
import shutil
import subprocess
import tempfile
import unittest

PROGRAM = os.environ["GAINWALK"]
ROOT = os.environ["GAINWALK_ROOT"]

# Words after `gainwalk`, and what the error says. `a/tarn.ini` is a chain, `a/captures/` holds captures, `full/` a hundred.
WRONG = [
    (["measure", "--jobs", "2", "--jobs", "3", "a/captures/C1.csv"], "option '--jobs' is given twice"),
    (["measure", "-x", "a/captures/C1.csv"], "unknown option '-x', see 'gainwalk measure --help'"),
    (["measure", "--nonsense", "a/captures/C1.csv"], "unknown option '--nonsense'"),
    (["measure"], "no capture given, see 'gainwalk measure --help'"),
    (["peek"], "no capture given, see 'gainwalk peek --help'"),
    (["measure", "--accuracy", "300%", "a/captures/C1.csv"], "--accuracy: not an accuracy such as '3%': '300%'"),
    (["measure", "--accuracy", "3V", "a/captures/C1.csv"], "--accuracy: not an accuracy such as '3%': '3V'"),
    (["measure", "--mains", "5Hz", "a/captures/C1.csv"], "--mains: not a mains frequency such as '50Hz': '5Hz'"),
    (["measure", "--rate", "0Hz", "a/captures/C1.csv"], "--rate: not a sample rate such as '48kHz': '0Hz'"),
    (["measure", "--stimulus", "wobble", "a/captures/C1.csv"], "--stimulus: "),
    (["measure", "--band", "20Hz", "a/captures/C1.csv"], "--band: not a band such as '20Hz..20kHz': '20Hz'"),
    (["measure", "--band", "20kHz..20Hz", "a/captures/C1.csv"], "--band: not a band such as '20Hz..20kHz': '20kHz..20Hz'"),
    (["measure", "--band", "1kHz..1kHz", "a/captures/C1.csv"], "--band: not a band such as '20Hz..20kHz': '1kHz..1kHz'"),
    (["measure", "--band", "1V..2V", "a/captures/C1.csv"], "--band: not a band such as '20Hz..20kHz': '1V..2V'"),
    (["measure", "--band", "100..20kHz", "a/captures/C1.csv"], "--band: not a band such as '20Hz..20kHz': '100..20kHz'"),
    (["measure", "--band", "..20kHz", "a/captures/C1.csv"], "--band: "),
    (["measure", "--band", "1" * 80 + "..2Hz", "a/captures/C1.csv"], "--band: not a band"),
    (["walk", "a/tarn.ini", "a/captures/C1.csv"], "chain files and captures together: a chain file names its own captures"),
    (["walk", "--gain", "20dB", "a/tarn.ini"], "'--gain' goes with captures; a chain file states it itself"),
    (["walk", "--stimulus", "sine 1kHz", "a/tarn.ini"], "'--stimulus' goes with captures; a chain file states it itself"),
    (["walk", "--gain", "lots", "a/captures/C1.csv", "a/captures/C9.csv"], "'lots"),
    (["explain", "wobble-box"], "nothing is called 'wobble-box', 'gainwalk explain' lists all words"),
    (["new"], "no points given, see 'gainwalk new --help'"),
    (["new", "--from", "a/captures", "IN"], "points and '--from' together: take one of them"),
    (["new", "--from", "nowhere"], "nowhere: cannot be listed: No such file or directory"),
    (["new", "--from", "empty"], "empty: holds no captures"),
    (["new", "--from", "steering"], r"'b\x01c.wav' can't be named in a chain file, give it another name: a control character"),
    (["new", "--from", "brackets"], "'p [1].csv' can't be named in a chain file, give it another name: "),
    (["watch", "-"], "a chain file that is watched has to be a file"),
    (["compare", "two.json", "one.json"], "holds 1 chains, 'two.json' holds 2"),
    (["learn"], "see 'gainwalk learn --help'"),
    (["response"], "one capture with two channels, or the stimulus and a capture: 0 given"),
    (["tone"], "see 'gainwalk tone --help'"),
    (["completion"], "unknown command 'completion'"),
]
# Status 0, 1 or 3, and what standard output holds.
RIGHT = [
    (["measure", "--version"], "gainwalk "),
    (["walk", "-h"], "find the stage where the signal goes wrong"),
    (["explain", "pink"], "pink: a test signal of 'gainwalk tone'"),
    (["measure", "--band", "20Hz..20kHz", "a/captures/C1.csv"], "noise"),
    (["measure", "--csv", "-", "a/captures/C1.csv"], "C1.csv"),
    (["compare", "--csv", "-", "one.json", "one.json"], "point"),
    (["new", "--output", "-", "--from", "a/captures"], "[point C1]"),
    (["walk", "--html", "-", "a/tarn.ini", "b/tarn.ini"], "<h1>Signal walks</h1>"),
    (["measure", "--reference", "1", "pair.csv"], "polarity flipped"),
    (["measure", "--reference", "A", "--csv", "-", "pair.csv"], "pair.csv"),
    (["measure", "--json", "--reference", "1", "--channel", "2", "pair.csv"], '"polarity": "flipped"'),
    (["measure", "--reference", "1", "nothing.csv"], "nothing in common with it"),
    (["compare", "--html", "-", "two.json", "two.json"], "<h1>Before and after</h1>"),
]


class Usage(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.held = tempfile.TemporaryDirectory()
        cls.folder = cls.held.name
        for name in ("a", "b"):
            shutil.copytree(os.path.join(ROOT, "samples", "all-in-order"), os.path.join(cls.folder, name))
        for folder, name in (("steering", "b\x01c.wav"), ("brackets", "p [1].csv")):
            os.mkdir(os.path.join(cls.folder, folder))
            for one in ("a.csv", name):
                with open(os.path.join(cls.folder, folder, one), "wb"):
                    pass
        for name, gain in (("pair", -2.0), ("nothing", 0.0)):
            with open(os.path.join(cls.folder, name + ".csv"), "w", encoding="ascii") as file:
                file.write("s,A (V),B (V)\n")
                for i in range(2000):
                    volts = 0.5 * math.sin(2 * math.pi * 1000 * i / 1e5)
                    file.write("%.5f,%.4f,%.4f\n" % (i / 1e5, volts, gain * volts))
        os.mkdir(os.path.join(cls.folder, "empty"))
        for words in (["one.json", "a/tarn.ini"], ["two.json", "a/tarn.ini", "b/tarn.ini"]):
            assert cls.run_on(["walk", "--quiet", "--save", *words])[0] in (0, 1, 3)

    @classmethod
    def tearDownClass(cls):
        cls.held.cleanup()

    @classmethod
    def run_on(cls, words):
        done = subprocess.run([PROGRAM, *words], cwd=cls.folder, stdin=subprocess.DEVNULL, capture_output=True, check=False)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    def test_wrong(self):
        for words, says in WRONG:
            with self.subTest(words=words):
                status, out, err = self.run_on(words)
                self.assertEqual((status, out), (2, ""), err)
                self.assertIn(says, err)
                self.assertTrue(err.startswith("gainwalk: ") and err.count("\n") == 1, err)

    def test_right(self):
        for words, holds in RIGHT:
            with self.subTest(words=words):
                status, out, err = self.run_on(words)
                self.assertIn(status, (0, 1, 3), err)
                self.assertEqual(err, "")
                self.assertIn(holds or "", out)


if __name__ == "__main__":
    unittest.main()
