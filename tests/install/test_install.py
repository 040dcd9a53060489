"""An installation in a scratch folder: the program runs, its pages are found, and the short program of samples/library-use is
built against it through pkg-config and through CMake. The Debian package holds the same, and runs in a bare root that has
nothing but what the package says it depends on."""

import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = os.environ["GAINWALK_ROOT"]
PROGRAM = os.environ.get("GAINWALK")
BUILD = os.path.dirname(PROGRAM or "")
SAMPLE = os.path.join(ROOT, "samples", "library-use", "levels.c")

CONSUMER = """cmake_minimum_required(VERSION 3.20)
project(consumer LANGUAGES C)
find_package(gainwalk 0.1 REQUIRED)
add_executable(levels %s)
target_link_libraries(levels PRIVATE gainwalk::gainwalk)
"""


def run(*words, **more):
    """Standard output of a command that must succeed."""
    done = subprocess.run(words, capture_output=True, text=True, check=False, **more)
    if done.returncode:
        raise AssertionError("%s: exit %d\n%s%s" % (" ".join(words), done.returncode, done.stdout, done.stderr))
    return done.stdout


def below(folder):
    return sorted(os.path.relpath(os.path.join(at, name), folder) for at, _, names in os.walk(folder) for name in names)


class Installed(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.scratch = tempfile.TemporaryDirectory()
        cls.folder = cls.scratch.name
        cls.prefix = os.path.join(cls.folder, "a prefix")
        run("cmake", "--install", BUILD, "--prefix", cls.prefix)
        cls.program = os.path.join(cls.prefix, "bin", "gainwalk")
        cls.tone = os.path.join(cls.folder, "tone.wav")
        run(cls.program, "tone", "sine", "--level", "100mV", "--full-scale", "1.95V", "--fade", "0s", "--length", "1s",
            cls.tone)

    @classmethod
    def tearDownClass(cls):
        cls.scratch.cleanup()

    def test_program(self):
        self.assertRegex(run(self.program, "--version"), r"^gainwalk \d+\.\d+\.\d+\n$")
        files = below(self.prefix)
        for wanted in ("share/man/man1/gainwalk.1", "share/man/man5/gainwalk-chain.5", "share/zsh/site-functions/_gainwalk",
                       "share/bash-completion/completions/gainwalk"):
            self.assertIn(wanted, files)
        headers = sorted(os.listdir(os.path.join(ROOT, "include", "gainwalk")))
        self.assertEqual(sorted(os.listdir(os.path.join(self.prefix, "include", "gainwalk"))), headers)

    def test_manual(self):
        if not shutil.which("man"):
            self.skipTest("man is missing")
        environment = dict(os.environ, MANPATH=os.path.join(self.prefix, "share", "man"), LC_ALL="C.UTF-8", MANWIDTH="80")
        self.assertIn("gainwalk - find the stage", run("man", "gainwalk", env=environment))
        self.assertIn("gainwalk-chain - chain files", run("man", "5", "gainwalk-chain", env=environment))

    def check_levels(self, program):
        """What the short program prints: the tone is 100 mV RMS at a full scale of 1.95 V, so 0.0512820 FS."""
        said = run(program, self.tone)
        found = re.search(r"tone\.wav: ([\d.]+) (m?)FS", said)
        self.assertTrue(found, said)
        self.assertAlmostEqual(float(found.group(1)) * (1e-3 if found.group(2) else 1), 0.1 / 1.95, delta=2e-6)

    def test_pkg_config(self):
        files = [os.path.join(self.prefix, name) for name in below(self.prefix) if name.endswith(".pc")]
        environment = dict(os.environ, PKG_CONFIG_PATH=os.path.dirname(files[0]), SAMPLE=SAMPLE)
        self.assertEqual(run("pkg-config", "--modversion", "gainwalk", env=environment).strip(),
                         run(self.program, "--version").split()[1])
        # the prefix has a blank in its name: pkg-config marks it the way a shell reads it
        run("sh", "-c", 'eval gcc -std=c17 -Wall -Wextra -Werror \'"$SAMPLE"\' -o levels '
            '"$(pkg-config --cflags --libs gainwalk)"', cwd=self.folder, env=environment)
        self.check_levels(os.path.join(self.folder, "levels"))

    def test_cmake_package(self):
        source = os.path.join(self.folder, "consumer")
        os.mkdir(source)
        with open(os.path.join(source, "CMakeLists.txt"), "w", encoding="utf-8") as file:
            file.write(CONSUMER % SAMPLE)
        run("cmake", "-S", source, "-B", source + "/build", "-DCMAKE_PREFIX_PATH=" + self.prefix)
        run("cmake", "--build", source + "/build")
        self.check_levels(source + "/build/levels")


def installed_closure(names):
    """The packages named, and all that they depend on, as installed here."""
    found, waiting = set(), list(names)
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        asked = subprocess.run(["dpkg-query", "-W", "-f", "${Status}|${Pre-Depends}, ${Depends}\n", name],
                               capture_output=True, text=True, check=False)
        line = asked.stdout.split("\n")[0]
        if asked.returncode or not line.startswith("install ok installed"):
            continue
        found.add(name)
        for wish in re.split(r"[,|]", line.split("|", 1)[1]):
            word = re.match(r"\s*([a-z0-9][a-z0-9.+-]*)", wish)
            if word:
                waiting.append(word.group(1))
    return found


def copy_libraries(packages, root):
    """Copies the shared libraries of packages, and the loader, into a root that is otherwise empty."""
    for name in packages:
        for path in run("dpkg", "-L", name).split("\n"):
            if not re.search(r"/lib(32|64)?/.*\.so(\.[\d.]*)?$", path) or os.path.isdir(path) or "python" in path:
                continue
            target = root + path
            os.makedirs(os.path.dirname(target), exist_ok=True)
            if os.path.islink(path) and not os.path.lexists(target):
                os.symlink(os.readlink(path), target)
            elif not os.path.lexists(target):
                shutil.copy(path, target)


@unittest.skipUnless(shutil.which("dpkg-shlibdeps") and shutil.which("cpack"), "cpack or dpkg-shlibdeps is missing")
class Debian(unittest.TestCase):
    def test_package(self):
        with tempfile.TemporaryDirectory() as folder:
            run("cpack", "-G", "DEB", "-B", folder, "--config", os.path.join(BUILD, "CPackConfig.cmake"))
            package = [os.path.join(folder, name) for name in os.listdir(folder) if name.endswith(".deb")][0]
            self.assertRegex(os.path.basename(package), r"^gainwalk_[\d.]+_[a-z0-9]+\.deb$")
            listed = run("dpkg-deb", "-f", package, "Depends")
            depends = [wish.split()[0] for wish in listed.split(",")]
            for wanted in ("libc6", "libsndfile1", "libinih1", "libjansson4"):
                self.assertIn(wanted, depends)
            root = os.path.join(folder, "root")
            run("dpkg", "-x", package, root)
            for wanted in ("usr/bin/gainwalk", "usr/share/man/man1/gainwalk.1", "usr/share/man/man5/gainwalk-chain.5",
                           "usr/lib/libgainwalk.a", "usr/share/bash-completion/completions/gainwalk",
                           "usr/share/zsh/vendor-completions/_gainwalk"):
                self.assertIn(wanted, below(root))
            owners = {line.split()[1] for line in run("dpkg-deb", "-c", package).strip().split("\n")}
            self.assertEqual(owners, {"root/root"})
            if os.geteuid() != 0:
                self.skipTest("a bare root needs root's rights")
            self.check_bare(root, depends)

    def check_bare(self, root, depends):
        copy_libraries(installed_closure(depends), root)
        os.mkdir(os.path.join(root, "job"))
        shutil.copytree(os.path.join(ROOT, "samples", "dead-stage"), os.path.join(root, "job", "dead-stage"))
        bare = ["env", "-i", shutil.which("chroot", path="/usr/sbin:/sbin:/usr/bin:/bin"), root, "/usr/bin/gainwalk"]
        self.assertRegex(run(*bare, "--version"), r"^gainwalk ")
        run(*bare, "tone", "--length", "0.1s", "/job/tone.wav")
        self.assertGreater(os.path.getsize(os.path.join(root, "job", "tone.wav")), 1000)
        walked = subprocess.run(bare + ["walk", "--quiet", "/job/dead-stage/tarn.ini"], capture_output=True, text=True,
                                check=False)
        self.assertEqual((walked.returncode, walked.stderr), (1, ""), walked.stdout)


if __name__ == "__main__":
    if not PROGRAM:
        sys.exit("the program was not built")
    if not shutil.which("pkg-config") or not shutil.which("cmake"):
        print("pkg-config or cmake is missing")
        sys.exit(77)
    RESULT = unittest.main(exit=False).result
    sys.exit(77 if RESULT.wasSuccessful() and RESULT.skipped else not RESULT.wasSuccessful())
