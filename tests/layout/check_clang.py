"""clang builds library, program and tests without a warning too (warnings are errors). Its folder lies in the build folder,
so that a second run only builds what changed."""

import os
import shutil
import subprocess
import sys
import tempfile

ROOT = os.environ["GAINWALK_ROOT"]


def build(source, folder):
    """The output of a failed configuration or build; None when all went well."""
    configure = ["cmake", "-S", source, "-B", folder, "-G", "Ninja", "-DCMAKE_C_COMPILER=clang", "-DGAINWALK_WERROR=ON",
                 "-DBUILD_TESTING=ON"]
    for command in (configure, ["cmake", "--build", folder, "-j", "2"]):
        run = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if run.returncode:
            return run.stdout
    return None


def warns():
    """Self-test: the flags of the project make clang refuse a conversion that loses something."""
    with open(os.path.join(ROOT, "CMakeLists.txt"), encoding="utf-8") as file:
        flags = [word for word in file.read().replace("\n", " ").split() if word.startswith("-W")]
    with tempfile.TemporaryDirectory() as folder:
        source = os.path.join(folder, "a.c")
        with open(source, "w", encoding="utf-8") as file:
            file.write("int shorten(double a);\nint shorten(double a) {\n    return a;\n}\n")
        return subprocess.run(["clang", "-Werror", "-c", source, "-o", source + ".o"] + flags, capture_output=True,
                              check=False).returncode != 0


def main():
    if not shutil.which("clang"):
        print("clang is missing")
        sys.exit(77)
    if not warns():
        sys.exit("self-test: a lossy conversion passes")
    program = os.environ.get("GAINWALK")
    beside = os.path.dirname(program) if program else os.path.join(ROOT, "build")
    output = build(ROOT, os.path.join(beside, "clang"))
    if output:
        print(output)
    sys.exit(1 if output else 0)


if __name__ == "__main__":
    main()
