"""However long a capture is, memory stays the same; and so do the readings, whatever is measured side by side."""

import array
import math
import os
import subprocess
import sys
import tempfile
import unittest

PROGRAM = os.environ["GAINWALK"]
MEASURED_KB, READ_KB = 64 * 1024, 22 * 1024  # the last large page may be all but empty, 2 MiB
PERIOD = 480  # samples: what repeats is quickly written


def peak_of(*words, stdin=subprocess.DEVNULL):
    """What the program printed, and the most memory it had, in kB."""
    with tempfile.TemporaryFile() as out:
        child = subprocess.Popen([PROGRAM, *words], stdout=out, stdin=stdin)
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        assert child.returncode == 0, words
        return out.read(), usage.ru_maxrss


def write_csv(path, periods):
    volts = [math.sin(2 * math.pi * i / PERIOD) for i in range(PERIOD)]
    with open(path, "w", encoding="ascii") as file:
        file.write("s,V\n")
        for k in range(periods):
            file.write("".join("%.6f,%.3f\n" % ((k * PERIOD + i) * 1e-6, volts[i]) for i in range(PERIOD)))


def write_wav(path, periods):
    one = array.array("h", (round(20000 * math.sin(2 * math.pi * i / PERIOD)) + (i * 7919 % 13) - 6 for i in range(PERIOD)))
    if sys.byteorder == "big":
        one.byteswap()
    size = 2 * PERIOD * periods
    with open(path, "wb") as file:
        file.write(b"RIFF" + (36 + size).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little"))
        file.write(b"".join(value.to_bytes(bytes_, "little") for value, bytes_ in
                            ((1, 2), (1, 2), (96000, 4), (192000, 4), (2, 2), (16, 2))))
        file.write(b"data" + size.to_bytes(4, "little"))
        for _ in range(periods):  # this process must stay small: what it starts begins as its copy
            file.write(one.tobytes())


class Memory(unittest.TestCase):
    def check(self, write, name, periods, long_periods):
        with tempfile.TemporaryDirectory() as folder:
            path, long_path = os.path.join(folder, name), os.path.join(folder, "long-" + name)
            write(path, periods)
            write(long_path, long_periods)
            one, peak = peak_of("measure", "--json", "--jobs", "2", path)
            alone, _ = peak_of("measure", "--json", "--jobs", "1", path)
            self.assertEqual(one, alone)
            with open(path, "rb") as file:
                piped, piped_peak = peak_of("measure", "--json", "--jobs", "2", "-", stdin=file)
            self.assertEqual(piped.replace(b'"file": "-"', b""), one.replace(b'"file": "%s"' % path.encode(), b""))
            _, long_peak = peak_of("peek", "--json", "--jobs", "2", long_path)
            print("%s: %d kB; piped %d kB; %d bytes read in %d kB" % (name, peak, piped_peak, os.path.getsize(long_path), long_peak))
            self.assertLess(peak, MEASURED_KB)
            self.assertLess(piped_peak, MEASURED_KB)
            self.assertLess(long_peak, READ_KB)
            self.assertGreater(os.path.getsize(long_path), 1536 * READ_KB)

    def test_csv(self):
        self.check(write_csv, "capture.csv", 900, 6000)  # 6 MB, through a window, 4 segments; 84 MB when kept as it was

    def test_wide_characters(self):
        with tempfile.TemporaryDirectory() as folder:
            plain, found = os.path.join(folder, "plain.csv"), {}
            write_csv(plain, 900)
            for encoding, mark in (("ascii", b""), ("utf-16-le", b"\xff\xfe"), ("utf-16-be", b""), ("utf-32-le", b"\xff\xfe\0\0")):
                path = os.path.join(folder, "capture.csv")
                with open(plain, encoding="ascii") as source, open(path, "wb") as file:
                    file.write(mark)
                    for line in source:
                        file.write(line.encode(encoding))
                found[encoding], peak = peak_of("peek", "--json", path)
                print("%s, %d bytes: %d kB" % (encoding, os.path.getsize(path), peak))
                self.assertLess(peak, 24 * 1024)
            self.assertEqual(len(set(found.values())), 1)

    def test_preamble_beside(self):
        """Settings beside the first rows are found however many rows follow, and do not keep them all in memory."""
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "capture.csv")
            for rows in (3000, 400000):
                beside = ["Record Length,%d" % rows, "Sample Interval,1e-06", "Source,CH3", "Vertical Units,V"]
                with open(path, "w", encoding="ascii") as file:
                    for i in range(rows):
                        volts = math.sin(2 * math.pi * (i % PERIOD) / PERIOD)
                        file.write("%s,,%.8f,%.3f\n" % (beside[i] if i < len(beside) else ",", i * 1e-6, volts))
                told, peak = peak_of("peek", "--json", path)
                self.assertIn(b'"CH3"', told)
                print("beside %d rows: %d kB" % (rows, peak))
                self.assertLess(peak, 24 * 1024)

    def test_one_line(self):
        """A channel written in one line takes the memory of the line, not of its values; a row of marks takes none."""
        rows = b"".join(b"%d.0e-5,%d.25\n" % (i, i % 5) for i in range(100))
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "capture.csv")
            for name, above, cell, end in (("values", b"", b"1,", b"\n"), ("marks", rows, b"inf,", b"\n"),
                                           ("text at the end", rows, b"1,", b"end\n")):
                with open(path, "wb") as file:
                    file.write(above)
                    for _ in range(3000):  # this process must stay small
                        file.write(cell * 1000)
                    file.write(end)
                told, peak = peak_of("peek", "--json", path)
                print("one line, %s, %d bytes: %d kB" % (name, os.path.getsize(path), peak))
                self.assertIn(b'"samples": %d' % (3000000 if name == "values" else 100), told)
                self.assertLess(peak, READ_KB + os.path.getsize(path) // 1024)

    def test_wav(self):
        self.check(write_wav, "capture.wav", 1200, 40000)  # 576,000 samples: beyond what is kept of a sound file


if __name__ == "__main__":
    unittest.main()
