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

# No more threads than FEW at once beside the first, or than ALL one after the other.
FEW = """#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
static atomic_int there, all;
typedef struct job { void *(*run)(void *); void *with; } job;
static void *run(void *of) {
    job own = *(job *)of;
    free(of);
    void *out = own.run(own.with);
    there--;
    return out;
}
int pthread_create(pthread_t *id, const pthread_attr_t *how, void *(*start)(void *), void *with) {
    int (*real)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *) =
        (int (*)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *))dlsym(RTLD_NEXT, "pthread_create");
    if (there >= atoi(getenv("FEW")) || all >= atoi(getenv("ALL")))
        return EAGAIN;
    job *own = malloc(sizeof *own);
    *own = (job){start, with};
    there++;
    all++;
    return real(id, how, run, own);
}
"""


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

    def run_with_few(self, words, few, in_all):
        if os.environ.get("GAINWALK_SANITIZED"):
            self.skipTest("a sanitizer's own threads would be refused, too")
        library = os.path.join(self.folder, "few.so")
        if not os.path.exists(library):
            with open(os.path.join(self.folder, "few.c"), "w", encoding="ascii") as file:
                file.write(FEW)
            subprocess.run(["gcc", "-shared", "-fPIC", "-o", library, "few.c", "-ldl"], cwd=self.folder, check=True)
        return subprocess.run([PROGRAM, *words, "--jobs", "4"], cwd=self.folder, capture_output=True, check=False,
                              env=dict(os.environ, LD_PRELOAD=library, FEW=str(few), ALL=str(in_all)))

    def test_threads_that_cannot_be_had(self):
        """Where the system refuses threads, from some number on, the job is done with fewer."""
        for words in (("walk", "--json", self.chains[0]), ("walk", "--lines", *self.chains * 2), ("measure", "--json", "long.wav")):
            alone = self.run_with(1, words)
            for few in (0, 1, 2, 4):
                done = self.run_with_few(words, few, 1000)
                self.assertEqual((done.returncode, done.stdout, done.stderr), (*alone, b""), few)

    def test_threads_that_go_away(self):
        """What OpenMP's runtime ends for want of threads is no verdict: status 2, or an abort."""
        for in_all in (6, 8):
            done = self.run_with_few(("walk", "--json", self.chains[0]), 100, in_all)
            self.assertNotIn(done.returncode, (0, 1, 3))
            self.assertNotEqual(done.stderr, b"")


if __name__ == "__main__":
    unittest.main()
