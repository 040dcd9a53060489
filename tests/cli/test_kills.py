"""Killed at any moment, the program leaves the earlier file or the new one under its name, never a broken one.

Half of the kills come at a random moment of the run, half at a random moment after the file that is being written has
appeared. So that kills meet a file half written, a shim makes every write short and slow. A kill that cannot be caught may
leave a NAME.part… behind: it holds nothing that was there before, nothing reads it, and the next run does not mind it. Nothing
is judged by how long it took. `test_kills.py --kills 500`, or GAINWALK_KILLS, is the number of kills in all (default 60)."""

import glob
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM = os.environ.get("GAINWALK")
ROOT = os.environ.get("GAINWALK_ROOT")
KILLS = int(sys.argv[sys.argv.index("--kills") + 1] if "--kills" in sys.argv else os.environ.get("GAINWALK_KILLS", "60"))
DEADLINE_S = 120
OLD = b"the earlier file\n" * 1000

SLOW = """#define _GNU_SOURCE
#include <dlfcn.h>
#include <unistd.h>
ssize_t write(int to, const void *bytes, size_t length) {
    ssize_t (*real)(int, const void *, size_t) = (ssize_t (*)(int, const void *, size_t))dlsym(RTLD_NEXT, "write");
    if (to > 2)
        usleep(300);
    return real(to, bytes, to > 2 && length > %d ? %d : length);
}
"""


def is_record(data):
    return bool(json.loads(data.decode())["chains"])


def is_page(data):
    return data.startswith(b"<!DOCTYPE html>") and data.rstrip().endswith(b"</html>")


def state_of(data, is_whole):
    """'old', 'new' or 'broken'."""
    if data == OLD:
        return "old"
    try:
        return "new" if is_whole(data) else "broken"
    except (ValueError, KeyError):
        return "broken"


class Kills(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp(prefix="gainwalk-kills-")
        shutil.copytree(os.path.join(ROOT, "samples", "all-in-order"), os.path.join(self.folder, "job"))
        with open(os.path.join(self.folder, "slow.c"), "w", encoding="utf-8") as file:
            file.write(SLOW % (4096, 4096))
        subprocess.run(["gcc", "-shared", "-fPIC", "-o", "slow.so", "slow.c", "-ldl"], cwd=self.folder, check=True)
        self.random = random.Random(20261125)

    def tearDown(self):
        shutil.rmtree(self.folder)

    def start(self, words):
        slow = {**os.environ, "LD_PRELOAD": os.path.join(self.folder, "slow.so")}
        return subprocess.Popen([PROGRAM, *words, "--force", "job/tarn.ini"], cwd=self.folder, env=slow,
                                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def wait_for_part(self, process, path):
        """Until the file that is being written is there, or the program has ended."""
        end = time.monotonic() + DEADLINE_S
        while process.poll() is None and time.monotonic() < end and not glob.glob(path + ".part*"):
            time.sleep(0.001)
            if os.stat(path).st_size != len(OLD):
                return

    def kill_once(self, words, path, whole_s, late):
        with open(path, "wb") as file:
            file.write(OLD)
        for part in glob.glob(path + ".part*"):  # of an earlier kill; the last one's stays for the run that follows
            os.unlink(part)
        process = self.start(words)
        if late:
            self.wait_for_part(process, path)
        time.sleep(self.random.random() * (0.03 if late else whole_s))
        process.send_signal(signal.SIGKILL)
        process.wait()

    def kill_often(self, words, name, is_whole, ends=True):
        path = os.path.join(self.folder, name)
        whole_s = 1.0
        if ends:
            begin = time.monotonic()
            self.assertIn(self.start(words).wait(timeout=DEADLINE_S), (0, 1, 3))
            whole_s = 1.2 * (time.monotonic() - begin)
            if is_whole is None:  # the same bytes each time
                with open(path, "rb") as file:
                    is_whole = file.read().__eq__
        states, parts = {"old": 0, "new": 0, "broken": 0}, 0
        for i in range(max(KILLS // 4, 4)):
            self.kill_once(words, path, whole_s, i % 2 == 1)
            with open(path, "rb") as file:
                states[state_of(file.read(), is_whole)] += 1
            parts += len(glob.glob(path + ".part*"))
        print("%s: %s, %d kills while it was being written" % (name, states, parts), file=sys.stderr)
        self.assertEqual(states["broken"], 0)
        if ends:  # what the kills left behind is in nobody's way, and whoever ends by itself leaves nothing
            left = glob.glob(path + ".part*")
            self.assertIn(self.start(words).wait(timeout=DEADLINE_S), (0, 1, 3))
            with open(path, "rb") as file:
                self.assertEqual(state_of(file.read(), is_whole), "new")
            self.assertEqual(sorted(glob.glob(path + ".part*")), sorted(left))

    def test_states_are_told_apart(self):
        self.assertEqual(state_of(OLD, is_page), "old")
        self.assertEqual(state_of(OLD[:-1], is_page), "broken")
        self.assertEqual(state_of(b"", is_record), "broken")
        self.assertEqual(state_of(b'{"chains": [1]', is_record), "broken")
        self.assertEqual(state_of(b"<!DOCTYPE html><html>", is_page), "broken")

    def test_record(self):
        self.kill_often(["walk", "--save", "kept.json"], "kept.json", is_record)

    def test_page(self):
        self.kill_often(["walk", "--html", "page.html"], "page.html", is_page)

    def test_learnt(self):
        self.kill_often(["learn", "--output", "learnt.ini"], "learnt.ini", None)

    def test_watch(self):
        self.kill_often(["watch", "--html", "seen.html"], "seen.html", is_page, ends=False)

    def test_standard_input(self):
        """Ctrl-C in the midst of it, or a kill that cannot be caught: what was kept of it is gone with the program."""
        kept = os.path.join(self.folder, "tmp")
        os.mkdir(kept)
        for end in (signal.SIGINT, signal.SIGKILL):
            run = subprocess.Popen([PROGRAM, "measure", "-"], stdin=subprocess.PIPE, env=dict(os.environ, TMPDIR=kept))
            run.stdin.write(b"0.125\n" * 200000)  # far more than a pipe holds: so most of it is kept by now
            run.send_signal(end)
            self.assertEqual(run.wait(timeout=DEADLINE_S), -end)
            self.assertEqual(os.listdir(kept), [])
            try:
                run.stdin.close()
            except BrokenPipeError:
                pass


if __name__ == "__main__":
    if PROGRAM is None or ROOT is None:
        sys.exit("GAINWALK and GAINWALK_ROOT must be set")
    unittest.main(argv=sys.argv[:1])
