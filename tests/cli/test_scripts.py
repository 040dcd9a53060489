"""The scripts where things are missing: on Debian as root and with sudo, elsewhere, and with wrong arguments.
Nothing is installed: apt-get and sudo are stand-ins in a PATH that holds nothing else than what the scripts need."""

import os
import shutil
import stat
import subprocess
import sys
import tempfile

ROOT = os.environ.get("GAINWALK_ROOT") or os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
TOOLS = ["bash", "env", "cat", "grep", "sed", "find", "sort", "dirname", "printf", "nproc", "mkdir", "rm"]
LIBRARIES = ["sndfile", "kissfft-float", "inih", "jansson", "nettle", "cmocka"]


def programs_wanted():
    """The programs that scripts/setup looks for by name, as its tables have them."""
    with open(os.path.join(ROOT, "scripts", "setup"), encoding="utf-8") as file:
        rows = [line.split() for line in file]
    return [row[2] for row in rows if len(row) > 3 and row[1] == "cmd" and "/" not in row[2] and row[0] != "#"]


class Machine:
    """A folder that is the whole PATH. `lacks` names programs that are not there, `libraries` what pkg-config knows,
    `sounds` the package of Python's sounds where it is wanted, `offered` whether Debian has it."""

    def __init__(self, folder, user=0, debian=True, sudo=False, lacks=(), libraries=LIBRARIES, sounds="", offered=True):
        self.folder, self.log = folder, os.path.join(folder, "log")
        for name in TOOLS:
            os.symlink(shutil.which(name), os.path.join(folder, name))
        for name in programs_wanted():
            if name not in lacks and name != "pkg-config":
                self.program(name, "exit 0")
        self.program("id", "echo %d" % user)
        known = " ".join(libraries)
        self.program("pkg-config", 'case " %s " in *" $2 "*) exit 0;; esac; exit 1' % known)
        if debian:  # apt-get "installs" by making programs of the names asked for
            self.program("apt-get", 'echo "$0 $*" >>%s/log\nfor name; do case $name in cmake|ngspice) '
                         'printf "#!/bin/sh\\n" >%s/$name; /bin/chmod +x %s/$name;; esac; done' % ((folder,) * 3))
            self.program("apt-cache", "exit %d" % (0 if offered else 100))
        self.program("python3", "echo %s" % sounds)
        if sudo:
            self.program("sudo", 'echo "sudo" >>%s/log\nexec "$@"' % folder)

    def program(self, name, body):
        path = os.path.join(self.folder, name)
        with open(path, "w", encoding="utf-8") as file:
            file.write("#!%s\n%s\n" % (shutil.which("bash"), body))
        os.chmod(path, os.stat(path).st_mode | stat.S_IXUSR)

    def run(self, *command):
        done = subprocess.run([os.path.join(ROOT, "scripts", command[0])] + list(command[1:]), cwd="/", text=True,
                              env={"PATH": self.folder, "PYTHON": os.path.join(self.folder, "python3")}, capture_output=True, stdin=subprocess.DEVNULL, check=False)
        logged = ""
        if os.path.exists(self.log):
            with open(self.log, encoding="utf-8") as file:
                logged = file.read()
        return done.returncode, done.stdout, done.stderr, logged


def on(*command, **machine):
    with tempfile.TemporaryDirectory() as folder:
        return Machine(folder, **machine).run(*command)


def check(what, fine, outcome):
    if not fine:
        print("%s:\n%r" % (what, outcome))
    return 0 if fine else 1


def check_sounds():
    """The package of Python's sounds is fetched whether or not anything else is missing, and no more than an extra."""
    failed, name = 0, "libpython3.99-testsuite"
    for lacks in ((), ("ngspice",)):
        with_them = "beside %s" % lacks[0] if lacks else "with nothing else missing"
        status, out, err, log = outcome = on("setup", "--tests", sounds=name, lacks=lacks)
        failed += check("sounds are fetched " + with_them, status == 0 and "installing " + name in out and
                        "install -y -q --no-install-recommends %s\n" % name in log and "sudo" not in log, outcome)
    status, out, err, log = outcome = on("setup", "--tests", sounds=name, user=1000, sudo=True)
    failed += check("sounds through sudo", status == 0 and name in log and "sudo" in log, outcome)
    for how in ({"user": 1000}, {"debian": False}, {"offered": False}):
        status, out, err, log = outcome = on("setup", "--tests", sounds=name, **how)
        failed += check("sounds that cannot be had are no error: %s" % how, (status, out, err, log) == (0, "", "", ""), outcome)
    status, out, err, log = outcome = on("setup", sounds=name)
    failed += check("sounds are for tests only", (status, log) == (0, ""), outcome)
    status, out, err, log = outcome = on("setup", "--tests")
    failed += check("sounds that are there are not fetched", (status, log) == (0, ""), outcome)
    return failed


def main():
    if not {"gcc", "cmake", "ngspice"} <= set(programs_wanted()):
        sys.exit("self-test: the tables of scripts/setup were not understood")
    failed = 0
    status, out, err, log = outcome = on("setup")
    failed += check("nothing missing: nothing said, nothing installed", (status, out, err, log) == (0, "", "", ""), outcome)
    status, out, err, log = outcome = on("setup", lacks=("cmake",))
    failed += check("Debian, root: cmake is installed, and said", status == 0 and "installing cmake" in out and
                    "install -y" in log and "cmake" in log and "sudo" not in log and "ninja" not in log, outcome)
    status, out, err, log = outcome = on("setup", lacks=("cmake",), user=1000, sudo=True)
    failed += check("Debian, sudo: the same through sudo", status == 0 and "cmake" in log and "sudo" in log, outcome)
    status, out, err, log = outcome = on("setup", lacks=("cmake",), user=1000)
    failed += check("neither root nor sudo: the package is named", status != 0 and "cmake" in err and log == "", outcome)
    status, out, err, log = outcome = on("setup", debian=False, lacks=("cmake",), libraries=LIBRARIES[1:])
    failed += check("elsewhere: the packages are named, with their purpose", status != 0 and "cmake" in err and
                    "libsndfile1-dev" in err and "reads WAV" in err and "jansson" not in err, outcome)
    status, out, err, log = outcome = on("setup", lacks=("ngspice",))
    failed += check("what only tests use is not asked for", (status, log) == (0, ""), outcome)
    status, out, err, log = outcome = on("setup", "--tests", lacks=("ngspice",))
    failed += check("with --tests it is", status == 0 and "ngspice" in log, outcome)
    failed += check_sounds()
    status, out, err, log = outcome = on("setup", libraries=[])
    failed += check("an installation that did not help is an error", status != 0 and "still missing" in err, outcome)
    status, out, err, log = outcome = on("setup", "--everything")
    failed += check("an unknown option", status == 2 and "usage" in err, outcome)
    status, out, err, log = outcome = on("demo", "no-such-job")
    failed += check("an unknown sample: those there are are named", status == 2 and "dead-stage" in err and
                    "leaky-capacitor/before" in err, outcome)
    status, out, err, log = outcome = on("test", "--no-such-option")
    failed += check("an unknown option of test", status == 2 and "--update" in err, outcome)
    print("%d failed" % failed)
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
