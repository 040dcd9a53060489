"""Long jobs: one line of JSON an input, inputs from a list, shards of it; the same bytes whatever runs side by side."""

import json
import math
import os
import shutil
import subprocess
import tempfile
import unittest

ROOT = os.environ["GAINWALK_ROOT"]
PROGRAM = os.environ["GAINWALK"]


def run(*words, cwd, status=0, text=None):
    done = subprocess.run([PROGRAM, *words], capture_output=True, cwd=cwd, check=False, input=text or b"")
    if done.returncode != status:
        raise AssertionError("%s: exit %d, not %d\n%s" % (" ".join(words), done.returncode, status, done.stderr.decode()))
    return done


class Lines(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.mkdtemp()
        for k in range(8):
            cycles, rows = 3.3 + k, 300 + 211 * k  # of different lengths: they do not end in their order
            with open(os.path.join(cls.folder, "c %d.csv" % k), "w", encoding="ascii") as file:
                file.write("s,V,V\n")
                for i in range(rows):
                    turn = 2 * math.pi * cycles * i / rows
                    file.write("%.7f,%.3f,%.3f\n" % (i * 1e-5, math.sin(turn), 0.5 * math.cos(3 * turn)))
        with open(os.path.join(cls.folder, "c 3.csv"), "w", encoding="ascii") as file:
            file.write("no numbers at all\n")
        cls.names = ["c %d.csv" % k for k in range(8)]
        with open(os.path.join(cls.folder, "list.txt"), "w", encoding="ascii", newline="") as file:
            file.write("\r\n".join(cls.names[:4]) + "\n\n" + "\n".join(cls.names[4:]))  # no end behind the last
        for name in ("all-in-order", "dead-stage", "leaky-capacitor"):
            shutil.copytree(os.path.join(ROOT, "samples", name), os.path.join(cls.folder, name))

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.folder)

    def test_jobs_change_nothing(self):
        for words in (["measure", "--json"], ["measure", "--lines"], ["peek", "--json"], ["measure"]):
            one = run(*words, "--jobs", "1", *self.names, cwd=self.folder, status=2)
            for jobs in ("2", "5"):
                many = run(*words, "--jobs", jobs, *self.names, cwd=self.folder, status=2)
                self.assertEqual(many.stdout, one.stdout, words)

    def test_jobs_change_nothing_in_one_long_file(self):
        path, block, blocks = os.path.join(self.folder, "long.csv"), 50000, 5  # 8 MB, two parts that are measured
        level = [math.sin(2 * math.pi * 0.001 * i) + 0.001 * math.sin(0.7 * i * i % 6.28) for i in range(block)]
        text = ["%.4f,%.4f,%.4f\n" % (v, -0.3 * v, 0.1 * v * v) for v in level]
        with open(path, "w", encoding="ascii") as file:
            file.write("s,V,V,V\n")
            for k in range(blocks):
                file.write("".join("%.6f,%s" % ((k * block + i) * 1e-6, text[i]) for i in range(block)))
        for words in (["measure", "--json"], ["peek", "--json"]):
            one = run(*words, "--jobs", "1", "long.csv", cwd=self.folder).stdout
            for jobs in ("2", "3"):
                self.assertEqual(run(*words, "--jobs", jobs, "long.csv", cwd=self.folder).stdout, one, words)

    def test_a_line_is_the_document_of_its_input(self):
        lines = run("measure", "--lines", *self.names, cwd=self.folder, status=2).stdout.decode().splitlines()
        self.assertEqual(len(lines), len(self.names))
        for k, line in enumerate(lines):
            alone = json.loads(run("measure", "--json", self.names[k], cwd=self.folder, status=2 if k == 3 else 0).stdout)
            told = json.loads(line)
            self.assertEqual(told.pop("input"), k + 1)
            self.assertEqual(told, alone)
        self.assertIn("error", json.loads(lines[3])["captures"][0])

    def test_list(self):
        named = run("measure", "--lines", *self.names, cwd=self.folder, status=2).stdout
        self.assertEqual(run("measure", "--lines", "--from", "list.txt", cwd=self.folder, status=2).stdout, named)
        text = ("\n".join(self.names[1:]) + "\n").encode()
        self.assertEqual(run("measure", "--lines", self.names[0], "--from", "-", cwd=self.folder, status=2, text=text).stdout, named)
        marked = b"\xef\xbb\xbf" + text  # as some editors save UTF-8
        self.assertEqual(run("measure", "--lines", self.names[0], "--from", "-", cwd=self.folder, status=2, text=marked).stdout, named)
        for name, content, says in (("none.txt", None, "cannot be read"), ("empty.txt", b"\n\n", "no inputs are listed"),
                                    ("binary.txt", b"a\0b\n", "zero bytes")):
            if content is not None:
                with open(os.path.join(self.folder, name), "wb") as file:
                    file.write(content)
            self.assertIn(says, run("measure", "--from", name, cwd=self.folder, status=2).stderr.decode())

    def test_shards_make_the_whole(self):
        whole = run("measure", "--lines", "--from", "list.txt", cwd=self.folder, status=2).stdout.splitlines()
        for shards in (1, 2, 3, 11):
            together = {}
            for k in range(1, shards + 1):
                unread = 4 % shards == k % shards  # the fourth input is the bad one
                own = run("measure", "--lines", "--from", "list.txt", "--shard", "%d/%d" % (k, shards), cwd=self.folder,
                          status=2 if unread else 0).stdout.splitlines()
                self.assertEqual(own, whole[k - 1::shards])
                together.update({json.loads(line)["input"]: line for line in own})
            self.assertEqual([together[number] for number in sorted(together)], whole)

    def test_chains(self):
        chains = [os.path.join(name, "tarn.ini") for name in ("all-in-order", "dead-stage")] + ["none.ini", "leaky-capacitor/tarn.ini"]
        worst = 2  # one is not there
        lines = run("walk", "--lines", "--jobs", "1", *chains, cwd=self.folder, status=worst).stdout
        self.assertEqual(run("walk", "--lines", "--jobs", "3", *chains, cwd=self.folder, status=worst).stdout, lines)
        for option in ("--json", "--quiet"):
            one, many = (run("walk", option, "--jobs", jobs, *chains, cwd=self.folder, status=worst).stdout for jobs in ("1", "3"))
            self.assertEqual(one, many)
        lines = lines.splitlines()
        for k in range(1, 4):
            words = ["walk", "--lines", "--shard", "%d/3" % k, *chains]
            done = subprocess.run([PROGRAM, *words], capture_output=True, cwd=self.folder, check=False)
            self.assertEqual(done.stdout.splitlines(), lines[k - 1::3])
        alone = json.loads(run("walk", "--json", chains[1], cwd=self.folder, status=1).stdout)
        told = json.loads(lines[1])
        self.assertEqual(told.pop("input"), 2)
        self.assertEqual(told, alone)
        self.assertEqual(json.loads(lines[2])["chains"][0]["file"], "none.ini")

    def test_more_runs_than_inputs(self):
        self.assertEqual(run("measure", "--lines", "--shard", "9/9", *self.names, cwd=self.folder).stdout, b"")
        self.assertEqual(json.loads(run("walk", "--json", "--shard", "9/9", "a.ini", cwd=self.folder).stdout)["chains"], [])

    def test_refused(self):
        for shard in ("0/3", "4/3", "1", "1/", "/3", "a/b", "1/3/5", "-1/3", "1/0", "1/9999999999999999999999", " 1/2", ""):
            self.assertIn("not a shard", run("measure", "--shard", shard, "x.csv", cwd=self.folder, status=2).stderr.decode(), shard)
        for words, says in ((["measure", "--lines", "--csv", "out.csv", "x.csv"], "--csv"), (["walk", "--lines", "--save", "r", "x.ini"], "--save"),
                            (["walk", "--lines", "x.csv"], "chain files"), (["walk", "--shard", "1/2", "x.csv", "y.csv"], "chain files")):
            done = run(*words, cwd=self.folder, status=2)
            self.assertIn(says, done.stderr.decode())
            self.assertEqual(done.stdout, b"")


if __name__ == "__main__":
    unittest.main()
