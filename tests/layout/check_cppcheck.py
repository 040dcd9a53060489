"""cppcheck has nothing to say of the sources: warnings, performance and portability. What it knows of unchanged files lies in
the build folder."""

import os
import shutil
import subprocess
import sys
import tempfile

ROOT = os.environ["GAINWALK_ROOT"]
CHECKS = ["--enable=warning,performance,portability", "--std=c11", "--inline-suppr", "--quiet", "--error-exitcode=1",
          "--suppress=missingIncludeSystem", "-D_POSIX_C_SOURCE=200809L"]


def check(folders, kept, includes=()):
    """What cppcheck says, or None where it is content."""
    os.makedirs(kept, exist_ok=True)
    done = subprocess.run(["cppcheck", *CHECKS, "--cppcheck-build-dir=" + kept, *("-I" + path for path in includes), *folders],
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
    return done.stdout if done.returncode else None


def main():
    if not shutil.which("cppcheck"):
        print("cppcheck is missing")
        sys.exit(77)
    with tempfile.TemporaryDirectory() as folder:
        with open(os.path.join(folder, "a.c"), "w", encoding="ascii") as file:
            file.write("int f(int n) {\n    int a[4] = {0};\n    return n > 9 ? a[4] : 0;\n}\n")
        if check([folder], os.path.join(folder, "kept")) is None:
            sys.exit("self-test: reading behind an array's end passes")
    program = os.environ.get("GAINWALK")
    beside = os.path.dirname(program) if program else os.path.join(ROOT, "build")
    said = check([os.path.join(ROOT, "src")], os.path.join(beside, "cppcheck"),
                 [os.path.join(ROOT, "include"), os.path.join(ROOT, "src")])
    if said:
        print(said)
    sys.exit(1 if said else 0)


if __name__ == "__main__":
    main()
