"""What runs side by side, many files, the segments of a long one, the captures of a walk, many walks, gives the same bytes
as one after another. Under ThreadSanitizer (scripts/test --sanitize threads) it shows that they don't touch each other."""

import array
import math
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM = os.environ["GAINWALK"]
ROOT = os.environ["GAINWALK_ROOT"]
RATE_HZ, LONG_SAMPLES, SHORT_SAMPLES = 48000, 420000, 3000  # a long one has four segments


def write_sound(path, samples, frequency_hz, amplitude):
    wave = array.array("h", (round(amplitude * math.sin(2 * math.pi * frequency_hz * i / RATE_HZ)) + i * 7919 % 13 - 6
                             for i in range(samples)))
    if sys.byteorder == "big":
        wave.byteswap()
    fields = ((1, 2), (1, 2), (RATE_HZ, 4), (2 * RATE_HZ, 4), (2, 2), (16, 2))
    with open(path, "wb") as file:
        file.write(b"RIFF" + (36 + 2 * samples).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little"))
        file.write(b"".join(value.to_bytes(size, "little") for value, size in fields))
        file.write(b"data" + (2 * samples).to_bytes(4, "little") + wave.tobytes())


class Threads(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.mkdtemp(prefix="gainwalk-threads-")
        write_sound(os.path.join(cls.folder, "long.wav"), LONG_SAMPLES, 997, 20000)
        cls.shorts = ["short-%d.wav" % k for k in range(6)]
        for k, name in enumerate(cls.shorts):
            write_sound(os.path.join(cls.folder, name), SHORT_SAMPLES + 500 * k, 440 * (k + 1), 3000 * (k + 1))
        for name in ("dead-stage", "all-in-order"):
            shutil.copytree(os.path.join(ROOT, "samples", name), os.path.join(cls.folder, name))
        cls.chains = ["dead-stage/tarn.ini", "all-in-order/tarn.ini"]

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.folder)

    def run_with(self, jobs, words):
        done = subprocess.run([PROGRAM, *words, "--jobs", str(jobs)], cwd=self.folder, capture_output=True, check=False)
        self.assertIn(done.returncode, (0, 1, 3), done.stderr.decode())
        return done.returncode, done.stdout

    def check(self, *words):
        alone = self.run_with(1, words)
        self.assertGreater(len(alone[1]), 100)
        for jobs in (2, 4):
            self.assertEqual(self.run_with(jobs, words), alone, jobs)

    def test_segments(self):
        self.check("measure", "--json", "long.wav")

    def test_many_files(self):
        self.check("measure", "--json", *self.shorts)
        self.check("measure", "--lines", *self.shorts)

    def test_many_files_and_segments(self):
        self.check("measure", "--json", "long.wav", self.shorts[0])

    def test_captures_of_a_walk(self):
        self.check("walk", "--json", self.chains[0])
        self.check("walk", "--json", "--stimulus", "sine 997 Hz", "--full-scale", "1V", "long.wav", *self.shorts[:2])

    def test_many_walks(self):
        self.check("walk", "--json", *self.chains)
        self.check("walk", "--lines", *self.chains * 2)


if __name__ == "__main__":
    unittest.main()
