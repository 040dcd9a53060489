"""The short program in samples/library-use builds against the public headers and the library, and prints what was simulated."""

import json
import math
import os
import re
import subprocess
import sys
import tempfile

ROOT = os.environ["GAINWALK_ROOT"]
PROGRAM = os.environ.get("GAINWALK")
PACKAGES = ["kissfft-float", "inih", "jansson", "nettle"]


def main():
    if not PROGRAM:
        sys.exit("the library was not built")
    library = os.path.join(os.path.dirname(PROGRAM), "libgainwalk.a")
    flags = subprocess.run(["pkg-config", "--libs"] + PACKAGES, capture_output=True, text=True, check=True).stdout.split()
    with open(os.path.join(ROOT, "samples", "circuit", "steady.json"), encoding="utf-8") as file:
        parts = json.load(file)["dead-stage"]["J1"]
    true = math.hypot(parts[1], parts[2]) / math.sqrt(2)
    with tempfile.TemporaryDirectory() as folder:
        program = os.path.join(folder, "levels")
        subprocess.run(["gcc", "-std=c17", "-Wall", "-Wextra", "-Werror", "-I", os.path.join(ROOT, "include"),
                        os.path.join(ROOT, "samples", "library-use", "levels.c"), library, "-o", program] + flags +
                       ["-fopenmp", "-lm"], check=True)
        capture = os.path.join(ROOT, "samples", "dead-stage", "captures", "J1.csv")
        good = subprocess.run([program, capture], capture_output=True, text=True, check=False)
        bad = subprocess.run([program, "nowhere.csv"], cwd=folder, capture_output=True, text=True, check=False)
    found = re.search(r"J1\.csv: ([\d.]+) mV", good.stdout)
    if good.returncode or not found or abs(float(found.group(1)) * 1e-3 - true) > 0.03 * true:
        sys.exit("expected about %g V:\n%s%s" % (true, good.stdout, good.stderr))
    if bad.returncode != 2 or "nowhere.csv" not in bad.stderr:
        sys.exit("a missing file passes:\n%s%s" % (bad.stdout, bad.stderr))


if __name__ == "__main__":
    main()
