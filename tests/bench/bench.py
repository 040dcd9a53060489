"""Speed and memory against a NumPy and SciPy script and against the floors: reading the bytes, decoding alone, one transform.

usage: scripts/bench [--full] [--json FILE] [--pairs N] [--only NAME]… | scripts/bench --counts [--update]

Ratios are medians of paired runs, in processor time, so that others on the machine matter little. With --counts no time is
taken: instructions of three fixed jobs, counted by callgrind, beside those kept in tests/bench/counts.json.
"""

import argparse
import json
import math
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile

import work

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
PROGRAM = os.environ["GAINWALK"]
COUNTS = os.path.join(HERE, "counts.json")
SCRIPT_ENOUGH_S = 12  # processor time of the script after which it is run no more
BUSY = 0.7  # load beyond which two cores are not there for one program
SLOWER = 1.02  # of the instructions kept: beyond, it is said and the exit status is 1
ALONE = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
JOBS = ("many-wav", "long-wav", "many-csv", "long-csv", "small-csv", "chains")


TOOLS = {}  # built here: what starts programs, what decodes, what does nothing


class Run:
    """One run of a program: wall, processor time, peak memory."""

    def __init__(self, line, words, fine):
        status, wall, cpu, peak = line.split()
        if int(status) not in fine:
            raise RuntimeError("%s: exit status %s" % (" ".join(words)[:200], status))
        self.wall_s, self.cpu_s, self.peak_mb = float(wall), float(cpu), int(peak) / 1024


def runs(words, times=1, env=None, fine=(0,)):
    out = TOOLS["run"] + ".out"
    subprocess.run([TOOLS["run"], str(times), out, *words], check=True, env={**os.environ, **(env or {})})
    with open(out, encoding="ascii") as file:
        return [Run(line, words, fine) for line in file]


def ours(files, jobs, listed):
    command = "walk" if files[0].endswith(".ini") else "measure"
    with open(listed, "w", encoding="utf-8") as file:
        file.write("\n".join(files))
    return runs([PROGRAM, command, "--lines", "--jobs", str(jobs), "--from", listed], fine=(0, 1, 3))[0]


def theirs(files):
    return runs(["/usr/bin/python3", "-W", "ignore", os.path.join(HERE, "script.py"), *files], env=ALONE)[0]


def chain_files(files):
    """What the script has to read for the same chains."""
    found = []
    for name in files:
        captures = os.path.join(os.path.dirname(name), "captures")
        found += [os.path.join(captures, one) for one in sorted(os.listdir(captures))]
    return found


def flags_of(library):
    return subprocess.run(["pkg-config", "--cflags", "--libs", library], capture_output=True, text=True, check=True).stdout.split()


def build_tools(folder):
    with open(os.path.join(folder, "nothing.c"), "w", encoding="ascii") as file:
        file.write("int main(void) { return 0; }\n")
    for name, source, more in (("run", os.path.join(HERE, "run.c"), []), ("nothing", os.path.join(folder, "nothing.c"), []),
                               ("decode", os.path.join(HERE, "decode.c"), flags_of("sndfile")),
                               ("transform", os.path.join(HERE, "transform.c"), flags_of("kissfft-float"))):
        TOOLS[name] = os.path.join(folder, name)
        subprocess.run([os.environ.get("CC", "cc"), "-O2", source, "-o", TOOLS[name], *more], check=True)


def samples_of(name, files):
    """Samples that are measured, all channels."""
    one = os.path.getsize(files[0])
    return len(files) * {"many-wav": one // 3, "long-wav": one // 3}.get(name, one // 15)


SEGMENT = 131072  # of a long record, as the program takes it
RECORDS = {"many-wav": 192000, "many-csv": 100000, "small-csv": 2500, "chains": 2500}


def job_runs(name, files, raw, pairs, listed):
    """Runs of each program in turn, so that what slows the machine for a while slows all of them."""
    of = {"mine": [], "script": [], "floor": [], "decode": [], "transform": [], "two": []}
    record = RECORDS.get(name, SEGMENT)
    for _ in range(pairs):
        of["mine"].append(ours(files, 1, listed))
        of["two"].append(ours(files, 2, listed))
        of["floor"].append(runs(["cat", *raw])[0])
        of["transform"].append(runs([TOOLS["transform"], str(record), str(max(samples_of(name, raw) // record, 1))])[0])
        if name.endswith("wav"):
            of["decode"].append(runs([TOOLS["decode"], *raw])[0])
        if sum(run.cpu_s for run in of["script"]) < SCRIPT_ENOUGH_S:
            of["script"].append(theirs(raw))
    return of


def measure_job(name, files, start_s, pairs, listed):
    raw = chain_files(files) if name == "chains" else files
    size = sum(os.path.getsize(path) for path in raw)
    samples = samples_of(name, raw)
    of = job_runs(name, files, raw, pairs, listed)
    mine, two = of["mine"], of["two"]
    cpu = statistics.median(run.cpu_s for run in mine)
    row = {"bytes": size, "samples": samples, "cpu_s": cpu, "mb_per_s": size / cpu / 1e6, "samples_per_s": samples / cpu,
           "peak_mb_1": max(run.peak_mb for run in mine), "peak_mb_2": max(run.peak_mb for run in two),
           "against_script": statistics.median((b.cpu_s - start_s) / a.cpu_s for a, b in zip(mine, of["script"])),
           "against_cat": statistics.median(a.cpu_s / max(b.cpu_s, 1e-3) for a, b in zip(mine, of["floor"])),
           "against_transform": statistics.median(a.cpu_s / max(b.cpu_s, 1e-3) for a, b in zip(mine, of["transform"])),
           "cores_2": min(a.wall_s for a in mine) / min(b.wall_s for b in two),  # wall: the quickest, or others count
           "cores_2_cost": statistics.median(b.cpu_s / a.cpu_s for a, b in zip(mine, two)),
           "script_peak_mb": max(run.peak_mb for run in of["script"])}
    if of["decode"]:
        row["against_decode"] = statistics.median(a.cpu_s / max(b.cpu_s, 1e-3) for a, b in zip(mine, of["decode"]))
    return row


def growth(files, pairs, listed):
    """The exponent of processor time over n, 2n, 4n: a straight line through logarithms."""
    logs = []
    for path in files:
        took = min(ours([path], 1, listed).cpu_s for _ in range(pairs))
        logs.append((math.log(os.path.getsize(path)), math.log(took)))
    x, y = (statistics.mean(column) for column in zip(*logs))
    return sum((a - x) * (b - y) for a, b in logs) / sum((a - x)**2 for a, _ in logs)


def start_up():
    """Of the program, and of one that does nothing, in turn: the medians of 200."""
    own, nothing = [], []
    for _ in range(20):
        own += runs([PROGRAM, "--version"], 10)
        nothing += runs([TOOLS["nothing"]], 10)
    return statistics.median(run.wall_s for run in own), statistics.median(run.wall_s for run in nothing)


def show(result):
    print("%-10s %8s %9s %11s %8s %8s %8s %8s %7s %7s %8s" % (
        "work", "MB/s", "Msamples/s", "x script", "x cat", "x decode", "x FFT", "2 cores", "MB (1)", "MB (2)", "script"))
    for name, row in result["work"].items():
        print("%-10s %8.1f %9.2f %11.2f %8.0f %8s %8.1f %8.2f %7.0f %7.0f %7.0fM" % (
            name, row["mb_per_s"], row["samples_per_s"] / 1e6, row["against_script"], row["against_cat"],
            "%.1f" % row["against_decode"] if "against_decode" in row else "-", row["against_transform"], row["cores_2"],
            row["peak_mb_1"], row["peak_mb_2"], row["script_peak_mb"]))
    for name, exponent in result["growth"].items():
        print("growth of %s: n^%.3f" % (name, exponent))
    print("start-up: %.2f ms, of a program that does nothing %.2f ms; NumPy and SciPy alone take %.2f s to start, which is not "
          "counted against the script" % (1000 * result["start_s"], 1000 * result["nothing_start_s"], result["script_start_s"]))
    if result["load"] > BUSY:
        print("others were at work (load %.1f when it began): the ratio of two cores to one tells of them" % result["load"])


def bench(options):
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR", "/var/tmp")) as folder:
        load = os.getloadavg()[0]
        made, listed = work.make(folder, options.full), os.path.join(folder, "list")
        build_tools(folder)
        start_s = statistics.median(theirs([]).cpu_s for _ in range(3))
        wanted = [name for name in JOBS if not options.only or name in options.only]
        own_start, nothing_start = start_up()
        result = {"machine": platform.processor() or platform.machine(), "cores": os.cpu_count(), "load": load,
                  "full": options.full, "start_s": own_start, "nothing_start_s": nothing_start, "script_start_s": start_s,
                  "work": {name: measure_job(name, made[name], start_s, options.pairs, listed) for name in wanted}, "growth": {}}
        for kind in ("wav", "csv"):
            if not options.only or "long-" + kind in options.only:
                files = [made[part + kind][0] for part in ("quarter-", "half-", "long-")]
                result["growth"]["long-" + kind] = growth(files, options.pairs, listed)
    show(result)
    if options.json:
        with open(options.json, "w", encoding="utf-8") as file:
            json.dump(result, file, indent=1)
            file.write("\n")


# ---- instructions


def count(words):
    with tempfile.TemporaryDirectory() as folder:
        out = os.path.join(folder, "out")
        subprocess.run(["valgrind", "--tool=callgrind", "--callgrind-out-file=" + out, PROGRAM, *words], check=False,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        with open(out, encoding="utf-8") as file:
            return int(next(line.split()[1] for line in file if line.startswith(("summary:", "totals:"))))


def counts(options):
    if not shutil.which("valgrind"):
        sys.exit("bench: valgrind is missing")
    with tempfile.TemporaryDirectory() as folder:
        wave, scope = os.path.join(folder, "a.wav"), os.path.join(folder, "a.csv")
        work.wav(wave, 96000, 2, 2)
        work.csv(scope, 20000)
        chain = os.path.join(folder, "chain")
        work.chain(chain, 6)
        found = {"measure a WAV of 2 s, 96 kHz, stereo": count(["measure", "--json", "--jobs", "1", wave]),
                 "read a CSV of 20,000 rows": count(["peek", "--json", "--jobs", "1", scope]),
                 "walk a chain of 6 points": count(["walk", "--json", "--jobs", "1", os.path.join(chain, "chain.ini")])}
    compiler = subprocess.run([os.environ.get("CC", "cc"), "--version"], capture_output=True, text=True, check=False).stdout.split("\n")[0]
    here = {"compiler": compiler, "libc": " ".join(platform.libc_ver()), "instructions": found}
    if options.update:
        with open(COUNTS, "w", encoding="utf-8") as file:
            json.dump(here, file, indent=1)
            file.write("\n")
    with open(COUNTS, encoding="utf-8") as file:
        kept = json.load(file)
    if (kept["compiler"], kept["libc"]) != (here["compiler"], here["libc"]):
        print("the counts kept are from %s with %s: expect differences" % (kept["compiler"], kept["libc"]))
    slower = False
    for name, number in found.items():
        ratio = number / kept["instructions"][name]
        slower = slower or ratio > SLOWER
        print("%-40s %14d  %6.3f of %d%s" % (name, number, ratio, kept["instructions"][name], "  SLOWER" if ratio > SLOWER else ""))
    sys.exit(1 if slower else 0)


def main():
    parser = argparse.ArgumentParser(prog="bench", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help="the sizes that the goals speak of: an hour and more")
    parser.add_argument("--json", metavar="FILE", help="write all figures as JSON")
    parser.add_argument("--pairs", type=int, default=3, help="runs of each (default 3)")
    parser.add_argument("--only", action="append", choices=JOBS, help="one kind of work alone; may be given several times")
    parser.add_argument("--counts", action="store_true", help="compare instruction counts with those kept")
    parser.add_argument("--update", action="store_true", help="with --counts: keep the counts found")
    options = parser.parse_args()
    if options.counts:
        counts(options)
    bench(options)


if __name__ == "__main__":
    main()
