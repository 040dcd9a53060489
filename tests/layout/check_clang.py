"""clang builds library, program, tests and fuzz targets without a warning too (warnings are errors)."""

import os
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), "builds"))
import clang  # noqa: E402

ROOT = os.environ["GAINWALK_ROOT"]


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
    if not clang.available():
        print("clang with its sanitizers and libFuzzer is missing")
        sys.exit(77)
    if not warns():
        sys.exit("self-test: a lossy conversion passes")
    try:
        clang.build()
    except RuntimeError as failed:
        sys.exit(str(failed))


if __name__ == "__main__":
    main()
