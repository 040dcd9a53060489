"""scripts/cluster on a cluster of one machine: two tasks side by side, one killed and put back, one that fails."""

import math
import os
import shutil
import subprocess
import sys
import tempfile
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import slurm  # noqa: E402

ROOT = os.environ["GAINWALK_ROOT"]
PROGRAM = os.environ["GAINWALK"]
SCRIPT = os.path.join(ROOT, "scripts", "cluster")

# Stands in for the program: shards 1 and 2 meet each other, shard 3 hangs when it runs for the first time, shard 4 is
# killed whenever it runs and the file `mended` is not there, shard 5 is killed once.
STAND_IN = """\
#!/bin/sh
case "$*" in
*"--shard 1/5"*) touch met-1; while [ ! -e met-2 ]; do sleep 0.1; done ;;
*"--shard 2/5"*) touch met-2; while [ ! -e met-1 ]; do sleep 0.1; done ;;
*"--shard 3/5"*) if [ ! -e hung-3 ]; then touch hung-3; sleep 300; fi ;;
*"--shard 4/5"*) if [ ! -e mended ]; then echo x >>killed-4; kill -KILL $$; fi ;;
*"--shard 5/5"*) if [ ! -e killed-5 ]; then touch killed-5; echo '{"input":' ; kill -KILL $$; fi ;;
esac
exec "%s" "$@"
"""


class ClusterTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.mkdtemp()
        os.mkdir(os.path.join(cls.folder, "slurm"))
        cls.cluster = slurm.Cluster(os.path.join(cls.folder, "slurm"))
        for k in range(13):
            rows = 300 + 37 * k
            with open(os.path.join(cls.folder, "c %d.csv" % k), "w", encoding="ascii") as file:
                file.write("s,V\n")
                for i in range(rows):
                    file.write("%.7f,%.3f\n" % (i * 1e-5, math.sin(2 * math.pi * (3.3 + k) * i / rows)))
        cls.write("c 7.csv", "no numbers at all\n")
        cls.write("list.txt", "".join("c %d.csv\r\n\n" % k for k in range(13)))
        cls.write("stand-in", STAND_IN % PROGRAM)
        os.chmod(os.path.join(cls.folder, "stand-in"), 0o755)

    @classmethod
    def tearDownClass(cls):
        cls.cluster.close()
        shutil.rmtree(cls.folder, ignore_errors=True)

    @classmethod
    def write(cls, name, text):
        with open(os.path.join(cls.folder, name), "w", encoding="ascii", newline="") as file:
            file.write(text)

    def start(self, *words, program):
        return subprocess.Popen([SCRIPT, *words], cwd=self.folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                env=dict(self.cluster.environment, GAINWALK=program))

    def finish(self, process):
        out, err = process.communicate(timeout=240)
        return process.returncode, out, err

    def one_run(self, *words):
        return subprocess.run([PROGRAM, "measure", "--lines", "--from", "list.txt", *words], cwd=self.folder,
                              capture_output=True, check=False)

    def results(self, name):
        with open(os.path.join(self.folder, name, "results.jsonl"), "rb") as file:
            return file.read()

    def exists(self, name):
        return os.path.exists(os.path.join(self.folder, name))

    def requeue_the_third(self):
        self.cluster.until(lambda: self.exists("hung-3"), "the third shard runs")
        queue = self.cluster.run("squeue", "--noheader", "--array", "--states=running", "--format=%i").split()
        self.cluster.run("scontrol", "requeue", next(job for job in queue if job.endswith("_3")))

    def test_killed_put_back_and_failed(self):
        whole = self.one_run("--mains", "50Hz")
        self.assertEqual(whole.returncode, 2)  # for the file without numbers
        words = ("measure", "list.txt", "out", "--tasks", "5", "--", "--mains", "50Hz")
        stand_in = os.path.join(self.folder, "stand-in")
        first = self.start(*words, program=stand_in)
        self.requeue_the_third()
        status, _, told = self.finish(first)
        self.assertEqual(status, 2, told)
        self.assertTrue(self.exists("met-1") and self.exists("met-2"))
        self.assertIn("shard 4 of 5 failed: shard 4: the program ended with status 137", told)
        self.assertNotIn("shard 5 of 5", told)
        self.assertNotIn("shard 3 of 5", told)
        self.assertFalse(self.exists("out/results.jsonl"))
        with open(os.path.join(self.folder, "killed-4"), encoding="ascii") as file:
            self.assertEqual(len(file.readlines()), 3)  # it was put back twice

        os.mkdir(os.path.join(self.folder, "mended"))
        status, told, _ = self.finish(self.start(*words, program=stand_in))
        self.assertIn("shards 4 of 5", told)  # that one alone
        self.assertEqual(status, whole.returncode)
        self.assertEqual(self.results("out"), whole.stdout)
        self.assertEqual([name for name in os.listdir(os.path.join(self.folder, "out", "parts")) if name.endswith(".part")], [])

    def test_more_tasks_than_inputs(self):
        status, told, _ = self.finish(self.start("measure", "list.txt", "small", "--tasks", "40", program=PROGRAM))
        whole = self.one_run()
        self.assertEqual((status, self.results("small")), (whole.returncode, whole.stdout), told)

    def test_odd_names_of_folders(self):
        """What the queue fills in stands behind a percent sign, unless there is a backslash."""
        self.write("two.txt", "c 1.csv\nnowhere.csv\n")
        for name in ("100%a of it", "it's 50 %%"):
            status, told, said = self.finish(self.start("measure", "two.txt", name, "--tasks", "2", program=PROGRAM))
            self.assertEqual(status, 2, (name, told, said))
            self.assertEqual(self.results(name).count(b"\n"), 2)
            self.assertEqual(sorted(os.listdir(os.path.join(self.folder, name, "log"))), ["1.txt", "2.txt"])
        status, _, said = self.finish(self.start("measure", "two.txt", "a\\b", program=PROGRAM))
        self.assertEqual((status, said), (2, "cluster: the queue takes no backslash in a folder's name: 'a\\b'\n"))
        self.assertFalse(self.exists("a\\b"))

    def test_one_folder_one_job(self):
        self.write("other.txt", "c 1.csv\nc 2.csv\n")
        self.write("another.txt", "c 1.csv\n")
        words = ("measure", "other.txt", "kept", "--tasks", "2")
        self.assertEqual(self.finish(self.start(*words, program=PROGRAM))[0], 0)
        before = self.results("kept")
        for changed, says in ((("measure", "another.txt", "kept"), "another list"),
                              ((*words, "--", "--mains", "60Hz"), "other options"),
                              (("walk", *words[1:]), "other options"), (("measure", "none.txt", "kept"), "cannot read"),
                              ((*words[:3], "--tasks", "0"), "not a number of tasks"),
                              ((*words[:3], "--task", "2"), "unknown option"), (("tone", "x", "y"), "usage")):
            status, _, told = self.finish(self.start(*changed, program=PROGRAM))
            self.assertEqual(status, 2, changed)
            self.assertIn(says, told)
        self.assertEqual(self.results("kept"), before)


if __name__ == "__main__":
    if slurm.lacking():
        print("skipped, not on this machine: " + " ".join(slurm.lacking()))
        sys.exit(77)
    unittest.main()
