"""gainwalk watch with real files arriving: copied, renamed, slow, overwritten, vanishing, and no captures at all.

What is awaited has a generous deadline; nothing is judged by how long it took."""

import ctypes
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import unittest

PROGRAM = os.environ.get("GAINWALK")
DEADLINE_S = 60

CHAIN = """[chain]
stimulus = sine 997 Hz 100 mV
captures = captures
[instrument]
full_scale = 1.95 V
[point IN]
[point U1]
gain = 20 dB ± 1 dB
[point OUT]
gain = 0 dB ± 1 dB
"""


class Watch:
    """A running program, and what it has said so far."""

    def __init__(self, folder, *words):
        self.said = {"out": "", "err": ""}
        self.process = subprocess.Popen([PROGRAM, "watch", *words, "a.ini"], cwd=folder, stdin=subprocess.DEVNULL,
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.threads = [threading.Thread(target=self.follow, args=pair, daemon=True)
                        for pair in (("out", self.process.stdout), ("err", self.process.stderr))]
        for thread in self.threads:
            thread.start()

    def follow(self, name, pipe):
        for block in iter(lambda: os.read(pipe.fileno(), 4096), b""):
            self.said[name] += block.decode()

    def wait(self, pattern, where="out", count=1):
        """Until `pattern` has been said `count` times."""
        end = time.monotonic() + DEADLINE_S
        while len(re.findall(pattern, self.said[where], re.MULTILINE)) < count:
            if time.monotonic() > end or self.process.poll() is not None:
                raise AssertionError("%r was not said:\n%s\n%s" % (pattern, self.said["out"], self.said["err"]))
            time.sleep(0.02)

    def rest(self, count=3):
        """Until the program has looked at the folder a few times more, seen by a capture of no point that is noticed."""
        for i in range(count):
            path = os.path.join(self.process_folder, "captures", "stranger-%d-%d.csv" % (os.getpid(), i))
            with open(path, "w", encoding="utf-8") as file:
                file.write("x\n")
            self.wait("belongs to no point: .*%s" % os.path.basename(path), "err")
            os.remove(path)

    def end(self, how=signal.SIGINT):
        self.process.send_signal(how)
        self.process.wait(DEADLINE_S)
        for thread in self.threads:
            thread.join(DEADLINE_S)
        self.process.stdout.close()
        self.process.stderr.close()
        return self.process.returncode


class Opens:
    """Whether a file was opened, by what the kernel says (inotify(7): IN_OPEN)."""
    IN_OPEN, IN_NONBLOCK = 0x20, os.O_NONBLOCK

    def __init__(self, path):
        libc = ctypes.CDLL(None, use_errno=True)
        self.descriptor = libc.inotify_init1(self.IN_NONBLOCK)
        if libc.inotify_add_watch(self.descriptor, os.fsencode(path), self.IN_OPEN) < 0:
            raise OSError(ctypes.get_errno(), "inotify_add_watch", path)

    def happened(self):
        """Whether there was one since the last question."""
        try:
            return len(os.read(self.descriptor, 65536)) > 0
        except BlockingIOError:
            return False

    def close(self):
        os.close(self.descriptor)


class Arrivals(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.store = tempfile.TemporaryDirectory()
        cls.tones = {}
        for name, level in (("100mV", "100mV"), ("1V", "1V"), ("0.2V", "0.2V")):
            cls.tones[name] = os.path.join(cls.store.name, name + ".wav")
            subprocess.run([PROGRAM, "tone", "--level", level, "--full-scale", "1.95V", "--length", "0.5s", "--fade", "0s",
                            "--quiet", cls.tones[name]], check=True)

    @classmethod
    def tearDownClass(cls):
        cls.store.cleanup()

    def setUp(self):
        self.scratch = tempfile.TemporaryDirectory()
        self.folder = self.scratch.name
        self.captures = os.path.join(self.folder, "captures")
        os.mkdir(self.captures)
        self.write("a.ini", CHAIN)
        self.running = []

    def tearDown(self):
        for watch in self.running:
            if watch.process.poll() is None:
                watch.process.kill()
                watch.end(signal.SIGKILL)
        self.scratch.cleanup()

    def write(self, name, text):
        with open(os.path.join(self.folder, name), "w", encoding="utf-8") as file:
            file.write(text)

    def read(self, name):
        with open(os.path.join(self.folder, name), encoding="utf-8") as file:
            return file.read()

    def start(self, *words):
        watch = Watch(self.folder, *words)
        watch.process_folder = self.folder
        self.running.append(watch)
        watch.wait("^watching", "err")
        watch.wait("^INCOMPLETE|^FAULT|^CLEAR|^UNSURE")
        return watch

    def put(self, tone, name):
        shutil.copy(self.tones[tone], os.path.join(self.captures, name))

    def test_named(self):
        watch = self.start("--html", "page.html", "--save", "kept.json")
        self.assertIn("Next: ", watch.said["out"])
        self.put("100mV", "IN.wav")
        watch.wait(r"^IN: ok, level 100\.0 mV")
        self.put("1V", "U1.wav")
        watch.wait(r"^U1: ok, level 1\.000 V, gain 20\.0 dB from IN \(expected 19\.0 to 21\.0 dB\)")
        watch.wait("^Next: OUT")
        self.put("0.2V", "OUT.wav")
        watch.wait(r"^OUT: off, level 200\.0 mV, gain -14\.0 dB from U1")
        watch.wait("^FAULT: Between U1 and OUT")
        page = self.read("page.html")
        self.assertIn('http-equiv="refresh"', page)
        self.assertTrue(page.rstrip().endswith("</html>"))
        # overwritten: judged again
        self.put("1V", "OUT.wav")
        watch.wait(r"^OUT: ok, level 1\.000 V")
        watch.wait("^(CLEAR|ALL|.*in order)")
        self.assertEqual(watch.end(), 0)
        self.assertEqual(watch.said["out"].count("\nOUT: "), 2)
        # the full report at the end, the page at rest, the record kept
        self.assertRegex(watch.said["out"].split("OUT: ok, level")[1], r"(?m)^point +level")
        self.assertNotIn('http-equiv="refresh"', self.read("page.html"))
        walked = subprocess.run([PROGRAM, "walk", "--quiet", "kept.json"], cwd=self.folder, capture_output=True, check=False)
        self.assertEqual(walked.returncode, 0)

    def test_assigned_by_order(self):
        self.put("1V", "before.wav")  # was there already: not taken for anything
        watch = self.start("--assign", "order")
        for number, (tone, expected) in enumerate((("1V", "U1"), ("0.2V", "OUT"), ("100mV", "IN"))):
            asked = re.findall("^Next: (\\S+)", watch.said["out"], re.MULTILINE)
            if not asked or len(asked) <= number:
                break
            self.put(tone if asked[-1] == expected else {"IN": "100mV", "U1": "1V", "OUT": "0.2V"}[asked[-1]],
                     "scope_%04d.wav" % (7 - number))
            watch.wait(r"^%s: \w+, level .*\(scope_%04d\.wav\)" % (asked[-1], 7 - number))
            watch.wait("^(INCOMPLETE|FAULT|UNSURE|CLEAR)", count=number + 2)
            time.sleep(0.1)
        watch.wait("^FAULT")
        self.assertIn("before.wav", watch.said["err"])
        self.assertEqual(watch.end(), 1)
        self.assertIn("point U1: capture = scope_", watch.said["err"])
        self.assertNotIn("before.wav)", watch.said["out"])

    def test_slow_file(self):
        watch = self.start()
        with open(self.tones["100mV"], "rb") as file:
            whole = file.read()
        with open(os.path.join(self.captures, "IN.wav"), "wb") as file:
            for at in range(0, len(whole), len(whole) // 15):
                file.write(whole[at:at + len(whole) // 15])
                file.flush()
                time.sleep(0.1)
        watch.wait(r"^IN: ok, level 100\.0 mV")
        watch.rest(1)
        self.assertEqual(len(re.findall("^IN: ", watch.said["out"], re.MULTILINE)), 1)
        # one that never gets a byte, one that is cut off in its header
        self.write("captures/U1.wav", "")
        with open(os.path.join(self.captures, "OUT.wav"), "wb") as file:
            file.write(whole[:30])
        watch.wait("^OUT: unreadable")
        self.put("1V", "OUT.wav")
        watch.wait(r"^OUT: ok, level 1\.000 V")
        self.assertNotIn("U1: ", watch.said["out"])
        # one that goes on growing until the end is left out of the verdict
        stop = threading.Event()

        def grow():
            with open(os.path.join(self.captures, "U1.wav"), "wb") as file:
                while not stop.wait(0.05):
                    file.write(b"x" * 100)
                    file.flush()
        growing = threading.Thread(target=grow)
        growing.start()
        try:
            watch.rest()
            status = watch.end()
        finally:
            stop.set()
            growing.join()
        self.assertEqual(status, 0)  # input and output are in order: what lies between is too
        self.assertIn("not complete, not judged: captures/U1.wav", watch.said["err"])

    def test_renamed_into_place(self):
        watch = self.start()
        self.put("100mV", "IN.wav.part")
        watch.rest()
        self.assertNotIn("IN: ", watch.said["out"])
        os.rename(os.path.join(self.captures, "IN.wav.part"), os.path.join(self.captures, "IN.wav"))
        watch.wait(r"^IN: ok, level 100\.0 mV")
        # another file moved over it
        shutil.copy(self.tones["0.2V"], os.path.join(self.folder, "x.wav"))
        os.rename(os.path.join(self.folder, "x.wav"), os.path.join(self.captures, "IN.wav"))
        watch.wait(r"^IN: \w+, level 200\.0 mV")
        watch.end()

    def test_no_captures(self):
        watch = self.start("--assign", "order")
        self.write("captures/notes.txt", "loose screw under the lid\n")
        self.write("captures/photo.jpg", "\xff\xd8 no capture")
        self.write("captures/.hidden.csv", "1,2\n")
        os.mkdir(os.path.join(self.captures, "U1.wav"))
        os.mkfifo(os.path.join(self.captures, "OUT.csv"))
        os.symlink("nowhere.csv", os.path.join(self.captures, "IN.csv"))
        self.put("100mV", "gone.wav")
        os.remove(os.path.join(self.captures, "gone.wav"))
        watch.wait("notes.txt", "err")
        self.put("1V", "good.wav")
        watch.wait(r"^\w+: \w+, level .*\(good\.wav\)")
        self.assertNotIn("photo", watch.said["out"] + watch.said["err"])
        self.assertNotIn("hidden", watch.said["out"] + watch.said["err"])
        watch.end()
        self.assertEqual(watch.process.returncode, 3)

    def test_vanished(self):
        self.put("100mV", "IN.wav")
        self.put("0.2V", "U1.wav")
        watch = self.start()
        watch.wait("^FAULT: Between IN and U1")
        os.remove(os.path.join(self.captures, "U1.wav"))
        watch.wait("^gone: .*U1.wav", "err")
        watch.wait("^INCOMPLETE")
        # the folder itself away and back
        os.rename(self.captures, self.captures + "-away")
        watch.wait("^gone: .*IN.wav", "err")
        os.rename(self.captures + "-away", self.captures)
        watch.wait(r"^IN: ok, level 100\.0 mV")
        self.put("1V", "U1.wav")
        watch.wait("^U1: ok")
        self.assertEqual(watch.end(signal.SIGTERM), 3)

    def test_chain_file_edited(self):
        self.put("100mV", "IN.wav")
        self.put("1V", "U1.wav")
        watch = self.start()
        self.write("a.ini", CHAIN.replace("gain = 20 dB", "gian = 20 dB"))
        watch.wait(r"a\.ini:8: .*gian", "err")
        self.write("a.ini", CHAIN.replace("gain = 20 dB", "gain = 26 dB"))
        watch.wait("^FAULT: Between IN and U1")
        self.assertEqual(len(re.findall("gian", watch.said["err"])), 1)
        self.assertEqual(watch.end(), 1)

    def test_measured_once(self):
        watch = self.start()
        self.put("100mV", "IN.wav")
        watch.wait(r"^IN: ok, level 100\.0 mV")
        opens = Opens(os.path.join(self.captures, "IN.wav"))
        self.put("1V", "U1.wav")
        watch.wait(r"^U1: ok, level 1\.000 V, gain 20\.0 dB from IN")
        self.assertFalse(opens.happened())
        # the chain file says how it is measured: changed, everything is measured again
        self.write("a.ini", CHAIN.replace("[instrument]", "[instrument]\nprobe = 10"))
        watch.wait(r"^FAULT|^UNSURE|^INCOMPLETE", count=4)
        self.put("1V", "OUT.wav")
        watch.wait(r"^OUT: \w+, level 10\.00 V, gain 0\.0 dB from U1")
        self.assertTrue(opens.happened())
        # and so is a capture of the same size and time, with other content
        path = os.path.join(self.captures, "OUT.wav")
        was = os.stat(path)
        shutil.copy(self.tones["0.2V"], path)
        os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))
        self.assertEqual((os.stat(path).st_size, os.stat(path).st_mtime_ns), (was.st_size, was.st_mtime_ns))
        self.put("1V", "U1.wav")
        watch.wait(r"^U1: \w+, level 10\.00 V", count=1)
        opens.close()
        watch.end()
        self.assertRegex(watch.said["out"].rsplit("FAULT", 1)[1], r"(?m)^OUT +2\.000? V")

    def test_stated_elsewhere(self):
        self.write("a.ini", CHAIN.replace("[point U1]", "[point U1]\ncapture = ../elsewhere/u.wav"))
        os.mkdir(os.path.join(self.folder, "elsewhere"))
        self.put("100mV", "IN.wav")
        watch = self.start()
        shutil.copy(self.tones["1V"], os.path.join(self.folder, "elsewhere", "u.wav"))
        watch.wait(r"^U1: ok, level 1\.000 V.*\(u\.wav\)")
        self.assertEqual(watch.end(), 3)

    def refused(self, *words):
        done = subprocess.run([PROGRAM, "watch", *words], cwd=self.folder, capture_output=True, text=True, timeout=DEADLINE_S,
                              check=False)
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        return done.stderr

    def test_refused(self):
        self.assertIn("one chain file", self.refused())
        self.assertIn("one chain file", self.refused("a.ini", "a.ini"))
        self.assertIn("name or order", self.refused("--assign", "size", "a.ini"))
        self.assertIn("b.ini", self.refused("b.ini"))
        for option in ("--html", "--csv", "--save"):
            self.write("mine", "precious\n")
            self.assertIn("exists already", self.refused(option, "mine", "a.ini"))
            self.assertEqual(self.read("mine"), "precious\n")
        self.assertIn("file", self.refused("--html", "-", "a.ini"))
        os.rmdir(self.captures)
        self.assertIn("no such folder", self.refused("a.ini"))


if __name__ == "__main__":
    if not PROGRAM:
        sys.exit("the program was not built")
    unittest.main()
