"""clang takes library, program, tests and fuzz targets without a warning too (warnings are errors). It only reads them: what
it makes of them is linked and run by fuzz/test_short and by the sanitized builds of tests/builds."""

import concurrent.futures
import json
import os
import shlex
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), "builds"))
import clang  # noqa: E402

ROOT = os.environ["GAINWALK_ROOT"]
LOSSY = "int shorten(double a);\nint shorten(double a) {\n    return a;\n}\n"


def commands(folder):
    """[(source, how clang compiles it)] of all that the build would compile."""
    run = subprocess.run(["cmake", "-S", ROOT, "-B", folder, "-G", "Ninja", "-DCMAKE_C_COMPILER=clang", "-DBUILD_TESTING=ON",
                          "-DGAINWALK_FUZZ=ON", "-DGAINWALK_WERROR=ON", "-DCMAKE_BUILD_TYPE=None",
                          f"-DCMAKE_C_FLAGS={clang.FLAGS}", "-DCMAKE_EXPORT_COMPILE_COMMANDS=ON"],
                         stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
    if run.returncode:
        sys.exit(run.stdout[-6000:])
    with open(os.path.join(folder, "compile_commands.json"), encoding="utf-8") as file:
        return [(entry["file"], shlex.split(entry["command"])) for entry in json.load(file)]


def said(folder, command):
    """What clang says of one source; nothing where it takes it."""
    run = subprocess.run([*command, "-fsyntax-only"], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                         check=False)
    return run.stdout or f"status {run.returncode}\n" if run.returncode else ""


def refuses(folder, source, command):
    """Self-test: a conversion that loses something is refused where it stands in the place of `source`."""
    planted = os.path.join(folder, "planted.c")
    with open(planted, "w", encoding="ascii") as file:
        file.write(LOSSY)
    told = said(folder, [planted if word == source else word for word in command])
    return "float-conversion" in told


def main():
    if not clang.available():
        print("clang with its sanitizers and libFuzzer is missing")
        sys.exit(77)
    with tempfile.TemporaryDirectory() as folder:
        known = commands(folder)
        rooms = {os.path.relpath(source, ROOT).split(os.sep)[0] for source, _ in known}
        if not {"src", "tests"} <= rooms or not any(f"{os.sep}fuzz{os.sep}" in source for source, _ in known):
            sys.exit(f"self-test: of library, tests and fuzz targets some are not compiled: {sorted(rooms)}")
        if not all(refuses(folder, *next(pair for pair in known if f"{os.sep}{room}{os.sep}" in pair[0]))
                   for room in ("src", "tests")):
            sys.exit("self-test: a lossy conversion passes")
        with concurrent.futures.ThreadPoolExecutor(clang.JOBS) as pool:
            wrong = [text for text in pool.map(lambda pair: said(folder, pair[1]), known) if text]
    if wrong:
        sys.exit("\n".join(wrong)[-6000:])


if __name__ == "__main__":
    main()
