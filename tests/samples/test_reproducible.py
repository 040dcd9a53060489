"""The generator makes the committed captures again, byte for byte; its simulation still agrees with what is kept; and the
captures are what an 8-bit scope could have taken of that circuit."""

import json
import math
import os
import re
import runpy
import shutil
import subprocess
import sys
import tempfile

ROOT = os.environ["GAINWALK_ROOT"]
SAMPLES = os.path.join(ROOT, "samples")
GENERATOR = os.path.join(ROOT, "scripts", "make-samples")


def captures(folder):
    found = {}
    for where, _, names in os.walk(folder):
        if os.path.basename(where) == "captures":
            for name in names:
                with open(os.path.join(where, name), "rb") as file:
                    found[os.path.relpath(os.path.join(where, name), folder)] = file.read()
    return found


def differences(kept, made):
    only = ["only %s: %s" % (where, name) for where, one, other in (("kept", kept, made), ("made", made, kept))
            for name in sorted(set(one) - set(other))]
    return only + ["differs: " + name for name in sorted(set(kept) & set(made)) if kept[name] != made[name]]


def generator_problems(kept):
    """Runs the generator (and so ngspice) into an empty folder and compares."""
    with tempfile.TemporaryDirectory() as folder:
        run = subprocess.run([sys.executable, GENERATOR, "--into", folder], capture_output=True, text=True, check=False)
        if run.returncode:
            return [run.stderr]
        return differences(kept, captures(folder))


def volts_of(raw, probe):
    """The last column of a sample's capture, whatever its layout; comma for the decimal sign where semicolons separate."""
    rows = []
    for line in raw.decode().splitlines():
        cells = line.replace(",", ".").split(";") if ";" in line else line.split(",")
        if re.fullmatch(r"-?\d+\.?\d*", cells[-1].strip()) and all(re.fullmatch(r"-?\d+\.?\d*", cell) for cell in cells):
            rows.append(float(cells[-1]) * probe)
    return rows


def scope_problems(name, raw, job, parts):
    """Eight bits, a range of 1-2-5, scaled within 3 %, the screen filled but not left."""
    volts = volts_of(raw, job.get("probe", 1.0))
    if len(volts) != job["rows"]:
        return ["%s: %d rows" % (name, len(volts))]
    levels = sorted({round(value, 9) for value in volts})
    found = []
    if len(levels) > 256:
        found.append("%s: %d levels" % (name, len(levels)))
    gaps = [high - low for low, high in zip(levels, levels[1:])]
    step = min(gaps)
    mantissa = 25 * step / 10 ** math.floor(math.log10(25 * step) + 1e-9)
    if min(abs(mantissa - allowed) for allowed in (1, 2, 5)) > 1e-6:
        found.append("%s: step %g V is none of a 1-2-5 range" % (name, step))
    peak_to_peak = 2 * math.hypot(parts[1], parts[2])
    if abs((levels[-1] - levels[0]) - peak_to_peak) > 0.03 * peak_to_peak + 4 * step:
        found.append("%s: %g V peak to peak of %g" % (name, levels[-1] - levels[0], peak_to_peak))
    mean = sum(volts) / len(volts)  # whole cycles, or so nearly that a few steps cover it
    if abs(mean - parts[0]) > 0.03 * abs(parts[0]) + 2 * step + 0.005 * peak_to_peak:
        found.append("%s: mean %g V of %g" % (name, mean, parts[0]))
    return found


def main():
    kept = captures(SAMPLES)
    spoiled = dict(kept)
    victim = sorted(spoiled)[0]
    spoiled[victim] = spoiled[victim][:-2] + b"?\n"
    if differences(kept, spoiled) != ["differs: " + victim] or differences(kept, {}) == []:
        sys.exit("self-test: a changed capture goes unnoticed")
    found = generator_problems(kept)
    with open(os.path.join(SAMPLES, "circuit", "steady.json"), encoding="utf-8") as file:
        steady = json.load(file)
    jobs = runpy.run_path(GENERATOR)["JOBS"]
    for job_name, job in jobs.items():
        for point in job["points"]:
            name = "%s/captures/%s.csv" % (job_name, point)
            found += scope_problems(name, kept[name], job, steady[job_name][point])
    for line in found:
        print(line)
    print("%d captures, %d problems" % (len(kept), len(found)))
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    if not shutil.which("ngspice"):
        print("ngspice is missing")
        sys.exit(77)
    main()
