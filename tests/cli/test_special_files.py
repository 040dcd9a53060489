"""What is no capture, chain file or record but has a name: pipes, devices, folders, sockets, links in a circle, files that
may not be read or that go away. Every command ends by itself, with status 2 and a sentence that names the thing.

A command that waits for ever is ended by an alarm; it is long enough never to judge a slow machine."""

import array
import os
import shutil
import socket
import subprocess
import tempfile
import threading
import time
import unittest

PROGRAM = os.environ["GAINWALK"]
ROOT = os.environ["GAINWALK_ROOT"]
ALARM_S = 120
NOBODY = 65534  # the user that may read nothing of root's

CHAIN = "[chain]\ntitle = one\nstimulus = sine 1 kHz\n\n[point IN]\ncapture = IN.csv\n\n[point OUT]\ncapture = %s\nstage = wire\n"


def become_nobody():
    os.setgid(NOBODY)
    os.setuid(NOBODY)


class SpecialFiles(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="gainwalk-special-")
        os.chmod(self.folder, 0o755)
        sample = os.path.join(ROOT, "samples", "dead-stage", "captures")
        self.good = os.path.join(sample, sorted(os.listdir(sample))[0])
        shutil.copy(self.good, self.path("IN.csv"))

    def tearDown(self):
        shutil.rmtree(self.folder)

    def path(self, name):
        return os.path.join(self.folder, name)

    def run_on(self, *words, **more):
        done = subprocess.run([PROGRAM, *words], cwd=self.folder, stdin=subprocess.DEVNULL, capture_output=True, check=False,
                              timeout=ALARM_S, **more)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    def make(self, end):
        """Each kind of thing by its name, in the folder."""
        os.mkfifo(self.path("pipe" + end))
        os.mkdir(self.path("folder" + end))
        os.symlink("circle" + end, self.path("circle" + end))
        os.symlink("nothing-there", self.path("dangling" + end))
        with socket.socket(socket.AF_UNIX) as held:
            held.bind(self.path("socket" + end))
        os.symlink("/dev/zero", self.path("zeros" + end))
        os.symlink("/dev/full", self.path("full" + end))
        os.symlink("pipe" + end, self.path("to-a-pipe" + end))
        return [kind + end for kind in ("pipe", "folder", "circle", "dangling", "socket", "zeros", "full", "to-a-pipe", "absent")]

    def check(self, name, *words, **more):
        status, out, err = self.run_on(*words, **more)
        self.assertEqual(status, 2, (words, out, err))
        self.assertIn(name, err, words)
        self.assertTrue(err.startswith("gainwalk: "), err)

    def test_as_captures(self):
        for name in self.make(".csv"):
            for command in (["measure"], ["measure", "--json"], ["measure", "--lines"], ["peek"], ["measure", "--reference", "1"]):
                self.check(name, *command, name)
            self.check(name, "walk", "IN.csv", name)
            self.check(name, "measure", "--from", name)

    def test_as_sound(self):
        for name in self.make(".wav"):
            self.check(name, "measure", name)

    def test_in_a_chain(self):
        for name in self.make(".csv"):
            with open(self.path("chain.ini"), "w", encoding="utf-8") as file:
                file.write(CHAIN % name)
            status, out, err = self.run_on("walk", "chain.ini")
            # the point that can't be read is told of, the rest is judged
            self.assertIn(name, err)
            self.assertIn("UNREADABLE", out)
            self.assertIn(status, (0, 1, 2, 3))
            self.assertIn(self.run_on("walk", "--save", "kept.json", "--force", "chain.ini")[0], (0, 1, 2, 3))

    def test_as_chain_files_and_records(self):
        shutil.copytree(os.path.join(ROOT, "samples", "all-in-order"), self.path("job"))
        self.assertIn(self.run_on("walk", "--quiet", "--save", "good.json", "job/tarn.ini")[0], (0, 1, 3))
        for end in (".ini", ".json"):
            for name in self.make(end):
                self.check(name, "compare", "good.json", name)
                self.check(name, "compare", name, "good.json")
                self.check(name, "learn", name)
                self.check(name, "walk", name)

    def test_as_outputs(self):
        """What is there and no regular file is never written into, --force or not."""
        shutil.copytree(os.path.join(ROOT, "samples", "all-in-order"), self.path("job"))
        names = [name for name in self.make(".out") if not name.startswith("absent")]
        for name in names:
            for option in ("--save", "--html", "--csv"):
                for force in ([], ["--force"]):
                    self.check(name, "walk", "--quiet", option, name, *force, "job/tarn.ini")
            self.check(name, "tone", "--force", name)
        self.assertEqual([left for left in os.listdir(self.folder) if ".part" in left], [])
        self.assertTrue(os.path.islink(self.path("full.out")))

    def test_not_to_be_read(self):
        if os.getuid() != 0:
            os.chmod(self.path("IN.csv"), 0)
            more = {}
        else:
            os.chmod(self.path("IN.csv"), 0o600)
            more = {"preexec_fn": become_nobody}
            if subprocess.run([PROGRAM, "--version"], capture_output=True, check=False, preexec_fn=become_nobody).returncode:
                self.skipTest("another user may not run the program here")
        for command in ("measure", "peek", "walk", "learn"):
            self.check("IN.csv", command, "IN.csv", **more)

    def test_a_link_to_a_capture_is_one(self):
        os.symlink(self.good, self.path("link.csv"))
        for command in (["measure", "--json"], ["peek"]):
            status, out, err = self.run_on(*command, "link.csv")
            self.assertEqual((status, err), (0, ""))
            self.assertEqual(out, self.run_on(*command, "IN.csv")[1].replace("IN.csv", "link.csv"))

    def going(self, name, write, words):
        """Runs a command while the file that it reads is cut, removed and written again."""
        stop = threading.Event()

        def change():
            while not stop.is_set():
                for step in (lambda: write(name), lambda: os.truncate(name, 1000), lambda: os.unlink(name)):
                    step()
                    time.sleep(0.003)
        write(name)
        thread = threading.Thread(target=change)
        thread.start()
        try:
            return [self.run_on(*words) for _ in range(12)]
        finally:
            stop.set()
            thread.join()

    def test_going_away(self):
        """A file that shrinks or goes while it is read: an answer or an error, never a signal, never without end."""
        rows = b"".join(b"%d.0e-6,%d.5\n" % (i, i % 7) for i in range(60000))
        sound = array.array("h", [(i * 7919) % 2001 - 1000 for i in range(400000)]).tobytes()
        header = (b"RIFF" + (36 + len(sound)).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little")
                  + bytes([1, 0, 1, 0]) + (48000).to_bytes(4, "little") + (96000).to_bytes(4, "little") + bytes([2, 0, 16, 0])
                  + b"data" + len(sound).to_bytes(4, "little"))

        def write_rows(path):
            with open(path, "wb") as file:
                file.write(b"s,V\n" + rows)

        def write_sound(path):
            with open(path, "wb") as file:
                file.write(header + sound)
        for name, write in (("going.csv", write_rows), ("going.wav", write_sound)):
            for command in ("measure", "peek"):
                for status, out, err in self.going(self.path(name), write, [command, name]):
                    self.assertIn(status, (0, 2), (command, name, err))
                    self.assertTrue(status == 0 or name in err, err)
                    self.assertTrue(out or err)


if __name__ == "__main__":
    unittest.main()
