"""--force is for earlier outputs: no output takes the place of a file that the same command reads, nor two outputs each
other's, by whatever name they go. Refused with status 2, and all files stay as they were."""

import os
import shutil
import subprocess
import tempfile
import unittest

PROGRAM = os.environ["GAINWALK"]
ROOT = os.environ["GAINWALK_ROOT"]
SAMPLE = os.path.join(ROOT, "samples", "dead-stage")


class Outputs(unittest.TestCase):
    def setUp(self):
        self.held = tempfile.TemporaryDirectory()
        self.folder = os.path.join(self.held.name, "bench")
        shutil.copytree(SAMPLE, self.folder)
        os.mkdir(os.path.join(self.folder, "sub"))
        self.run_it("walk", "tarn.ini", "--quiet", "--save", "r.json", status=1)
        os.symlink("captures/VR1.csv", os.path.join(self.folder, "link.csv"))
        with open(os.path.join(self.folder, "list"), "w", encoding="ascii") as file:
            file.write("captures/J1.csv\n")

    def tearDown(self):
        self.held.cleanup()

    def run_it(self, *words, status):
        done = subprocess.run([PROGRAM, *words], cwd=self.folder, capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, status, "%s\n%s%s" % (words, done.stdout, done.stderr))
        return done.stderr

    def files(self):
        held = {}
        for at, _, names in os.walk(self.folder):
            for name in names:
                with open(os.path.join(at, name), "rb") as file:
                    held[os.path.join(at, name)] = file.read()
        return held

    def refused(self, says, *words):
        before = self.files()
        self.assertIn(says, self.run_it(*words, "--force", status=2))
        self.assertEqual(self.files(), before, words)

    def test_what_is_read(self):
        says = "is read by this very command, not overwritten by '--"
        for words in (("walk", "tarn.ini", "--html", "tarn.ini"), ("walk", "tarn.ini", "--html", "captures/VR1.csv"),
                      ("walk", "tarn.ini", "--csv", "./sub/../captures/DRY.csv"), ("walk", "r.json", "--save", "r.json"),
                      ("walk", "captures/J1.csv", "captures/C1.csv", "--csv", "captures/C1.csv"),
                      ("walk", "link.csv", "captures/C1.csv", "--html", "captures/VR1.csv"),
                      ("compare", "r.json", "tarn.ini", "--html", "r.json"), ("compare", "r.json", "tarn.ini", "--csv", "tarn.ini"),
                      ("measure", "captures/J1.csv", "--csv", "captures/J1.csv"), ("measure", "--from", "list", "--csv", "list"),
                      ("learn", "tarn.ini", "r.json", "--output", "r.json"), ("learn", "tarn.ini", "--output", "./tarn.ini"),
                      ("watch", "tarn.ini", "--html", "tarn.ini")):
            self.refused(says, *words)
        self.refused("would replace a file it was made from", "walk", "tarn.ini", "--save", "captures/VR1.csv")

    def test_each_other(self):
        for names in (("x", "x"), ("x.html", "./sub/../x.html"), ("./x", "x")):
            self.refused("is named by '--csv' and by '--html'", "walk", "tarn.ini", "--html", names[0], "--csv", names[1])
        self.refused("is named by '--html' and by '--save'", "walk", "tarn.ini", "--html", "new", "--save", "new")

    def test_earlier_outputs(self):
        """What --force is for, and outputs of one name in two folders."""
        for _ in range(2):
            self.run_it("walk", "tarn.ini", "--html", "x", "--csv", "sub/x", "--save", "x.json", "--force", status=1)
        self.run_it("walk", "tarn.ini", "--html", "-", "--csv", "-", status=1)
        self.assertEqual(sorted(set(os.listdir(self.folder)) - set(os.listdir(SAMPLE))),
                         ["link.csv", "list", "r.json", "sub", "x", "x.json"])

    def test_one_unit_is_not_two(self):
        """A tolerance interval learnt from the same record twice would hold what it does not."""
        self.assertIn("is given twice: one unit is not two",
                      self.run_it("learn", "tarn.ini", "r.json", "./r.json", "--output", "-", status=2))


if __name__ == "__main__":
    unittest.main()
