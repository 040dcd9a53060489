"""Nasty but plausible captures: every text example, cut, swapped, widened, and given huge numbers; and a few of great size.

The rule: an answer or one clear error (exit 0, 2 or 3, never a signal), no NaN or infinity printed, within bounded memory
and processor time. The bounds are the system's own (RLIMIT_AS, RLIMIT_CPU), wide enough never to judge a slow machine:
they are there to stop what would go on for ever. A sanitizer reserves terabytes of addresses and takes several times as
long, so under one (GAINWALK_SANITIZED) memory has no bound and time a wider one."""

import glob
import json
import math
import os
import random
import resource
import struct
import subprocess
import sys
import tempfile
import unittest

PROGRAM = os.environ.get("GAINWALK")
ROOT = os.environ.get("GAINWALK_ROOT")
ROUNDS = int(os.environ.get("GAINWALK_NASTY", "1"))  # of every change on every example
SANITIZED = "GAINWALK_SANITIZED" in os.environ
MEMORY, CPU_S = 2 << 30, 600 if SANITIZED else 60
MARK = {"parse_constant": lambda word: (_ for _ in ()).throw(ValueError(word))}  # NaN and Infinity are no JSON


def limit():
    if not SANITIZED:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def lines_of(data):
    return data.split(b"\n")


def cut(data, rng):
    return data[: rng.randrange(1, len(data))]


def swap_lines(data, rng):
    lines = lines_of(data)
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def swap_halves(data, rng):
    at = rng.randrange(1, len(data))
    return data[at:] + data[:at]


def huge_number(data, rng):
    digits = [i for i, byte in enumerate(data) if 48 <= byte <= 57]
    if not digits:
        return data
    at = rng.choice(digits)
    words = (b"1e308", b"-1e309", b"9" * 400, b"1e-400", b"0x7fffffffffffffff", b"nan", b"inf", b"-2147483648",
             b"18446744073709551616", b"1e99999999999999999999")
    return data[:at] + rng.choice(words) + data[at + 1:]


def other_separator(data, rng):
    return data.replace(rng.choice((b",", b";", b"\t", b".")), rng.choice((b",", b";", b"\t", b" ", b"")))


def other_end(data, rng):
    return data.replace(b"\n", rng.choice((b"\r", b"\r\n", b"\n\n", b"\x00\n")))


def doubled(data, rng):
    at = rng.randrange(len(data))
    return data[:at] + data + data[at:]


def widened(data, rng):
    return b"\n".join(line + b",1.5" * rng.randrange(4) for line in lines_of(data))


def utf16(data, rng):
    whole = b"\xff\xfe" + data.decode("latin-1").encode("utf-16-le")
    return whole[: len(whole) - rng.randrange(2)]


CHANGES = (cut, swap_lines, swap_halves, huge_number, other_separator, other_end, doubled, widened, utf16)

# name, makes the whole of a file
LARGE = (
    ("hundred thousand columns", lambda: b"\n".join([b",".join([b"1.5"] * 100000)] * 5)),
    ("hundred thousand names", lambda: b",".join(b"CH%d" % i for i in range(100000)) + b"\n" + b"1,2,3\n" * 50),
    ("a line of 50 MB", lambda: b"9" * 50_000_000),
    ("a line of 50 MB of values", lambda: b"1.25," * 10_000_000),
    ("a line of marks", lambda: b"inf," * 5_000_000 + b"\n" + b"0,1\n1,2\n" * 50),
    ("a million names above two columns", lambda: b"s,V" + b",aaaa" * 1_000_000 + b"\n" + b"0,1\n1,2\n" * 50),
    ("values, then a word", lambda: b"1," * 5_000_000 + b"end\n" + b"0,1\n1,2\n" * 50),
    ("quotes in quotes", lambda: b't,"' + b'""' * 500_000 + b"\n0,1\n1,2\n"),
    ("brackets in brackets", lambda: b"[" * 1_000_000 + b"1" + b"]" * 1_000_000),
    ("blank lines", lambda: b"\n" * 5_000_000),
    ("a heading without end", lambda: b"key,value\n" * 500_000),
    ("one value a line, then none", lambda: b"1\n" * 500_000 + b"\n" * 500_000),
    ("only zeros", lambda: bytes(5_000_000)),
)


class Nasty(unittest.TestCase):
    def run_on(self, files, what):
        done = subprocess.run([PROGRAM, "measure", "--json", "--jobs", "1", *files], capture_output=True, check=False,
                              preexec_fn=limit)
        said = done.stderr.decode("utf-8", "replace")
        self.assertIn(done.returncode, (0, 2, 3), "%s: status %d\n%s" % (what, done.returncode, said[-500:]))
        captures = json.loads(done.stdout.decode(), **MARK)["captures"] if done.stdout else []
        if done.returncode == 2:
            self.assertTrue(said.startswith("gainwalk: ") or any("error" in one for one in captures), what)
        for byte in range(0x20):
            if byte not in (0x09, 0x0A):
                self.assertNotIn(chr(byte), said, what)
        return done.returncode, captures

    def write(self, folder, name, data):
        path = os.path.join(folder, name)
        with open(path, "wb") as file:
            file.write(data)
        return path

    def examples(self):
        for folder in ("data", "own"):
            for path in sorted(glob.glob(os.path.join(ROOT, "tests", "capture", folder, "*"))):
                if path.endswith((".csv", ".txt")):
                    with open(path, "rb") as file:
                        yield os.path.basename(path), file.read()

    def test_changed_examples(self):
        rng, counts = random.Random(20261125), {0: 0, 2: 0, 3: 0}
        for change in CHANGES:
            with tempfile.TemporaryDirectory(prefix="gainwalk-nasty-") as folder:
                files = [self.write(folder, "%d-%s" % (i, name), change(data, rng))
                         for name, data in self.examples() if len(data) > 1 for i in range(ROUNDS)]
                self.assertGreater(len(files), 50 * ROUNDS)
                for at in range(0, len(files), 10):
                    try:
                        status, _ = self.run_on(files[at: at + 10], change.__name__)
                    except (AssertionError, ValueError) as first:
                        for file in files[at: at + 10]:  # name the one
                            self.run_on([file], "%s of %s" % (change.__name__, os.path.basename(file)))
                        raise first
                    counts[status] += 1
        print("status: batches", counts, file=sys.stderr)
        self.assertGreater(counts[2], 0)

    def test_large_files(self):
        with tempfile.TemporaryDirectory(prefix="gainwalk-nasty-") as folder:
            for name, make in LARGE:
                path = self.write(folder, "large.csv", make())
                status, captures = self.run_on([path], name)
                print("%s: status %d, %d answers" % (name, status, len(captures)), file=sys.stderr)

    def test_sound_files_beyond_all_volts(self):
        """Samples of 64 bits that are no voltage, alone or once scaled, are overload: never infinite, never a number."""
        with tempfile.TemporaryDirectory(prefix="gainwalk-nasty-") as folder:
            for value in (9.9e37, 1e300, 1.7e308, float("inf")):
                for scale in ("1V", "1.95V", "1kV"):
                    samples = [0.1 * math.sin(0.3 * i) for i in range(2000)]
                    samples[700] = samples[701] = value
                    samples[900] = -value
                    data = struct.pack("<2000d", *samples)
                    heading = b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 3, 1, 48000, 384000, 8, 64)
                    body = heading + b"data" + struct.pack("<I", len(data)) + data
                    path = self.write(folder, "large.wav", b"RIFF" + struct.pack("<I", len(body)) + body)
                    done = subprocess.run([PROGRAM, "measure", "--json", "--full-scale", scale, path], capture_output=True,
                                          check=False, preexec_fn=limit)
                    self.assertIn(done.returncode, (0, 2, 3), done.stderr)
                    capture = json.loads(done.stdout.decode(), **MARK)["captures"][0]
                    self.assertIn("overload", json.dumps(capture), (value, scale))
                    self.assertLess(abs(capture["readings"]["dc"].get("value", 0)), 1000)

    def test_sound_files_with_holes(self):
        """Samples missing all over a record of many harmonics: told within the bound, and the level is that of the rest.
        A saw from -0.5 to 0.5 has an RMS of 1/sqrt(12); half of a square's samples are high whatever is missing."""
        rng, n = random.Random(4), 65536
        waves = (("saw", lambda i: (i * 110.3 / 48000) % 1 - 0.5, 1 / math.sqrt(12)),
                 ("square", lambda i: 0.3 if (i * 50.02 / 48000) % 1 < 0.5 else -0.3, 0.3),
                 ("sine", lambda i: 0.5 * math.sin(i * 997 / 48000 * 2 * math.pi), 0.5 / math.sqrt(2)))
        holes = (("one in three", lambda i: rng.random() < 0.3), ("every other", lambda i: i % 2 == 0),
                 ("nearly all", lambda i: rng.random() < 0.9), ("one in fifty", lambda i: rng.random() < 0.02))
        with tempfile.TemporaryDirectory(prefix="gainwalk-nasty-") as folder:
            for name, wave, rms in waves:
                for of, missing in holes:
                    samples = [math.nan if missing(i) else wave(i) + rng.gauss(0, 1e-4) for i in range(n)]
                    data = struct.pack("<%df" % n, *samples)
                    heading = b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 3, 1, 48000, 192000, 4, 32)
                    body = heading + b"data" + struct.pack("<I", len(data)) + data
                    path = self.write(folder, "holes.wav", b"RIFF" + struct.pack("<I", len(body)) + body)
                    status, captures = self.run_on([path], (name, of))
                    self.assertEqual((status, captures[0]["signal"] != "none"), (0, True), (name, of))
                    level = captures[0]["readings"]["level"]
                    if "value" in level:
                        self.assertAlmostEqual(level["value"] / rms, 1, delta=0.01, msg=(name, of))

    def test_infinity_is_noticed(self):
        self.assertRaises(ValueError, json.loads, "[NaN]", **MARK)
        self.assertRaises(ValueError, json.loads, "[-Infinity]", **MARK)


if __name__ == "__main__":
    if PROGRAM is None or ROOT is None:
        sys.exit("GAINWALK and GAINWALK_ROOT must be set")
    unittest.main()
