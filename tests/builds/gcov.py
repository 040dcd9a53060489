"""Lines and branches of src/ that the suite runs, by gcov. `scripts/gcov` calls it.

It is the suite of the part gcc-O0 of sanitize.py, with counters and as few trials. Every source counts, and every branch that gcc tells of: none is left out. Lines that no test runs stand in unrun.txt beside
this file, each with a reason; one that is missing there fails the run, and so does a share below the goals. What stands there
but is run after all is told: some of it depends on when a program was stopped."""

import collections
import glob
import json
import os
import re
import subprocess
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import clang  # noqa: E402
from sanitize import ELSEWHERE, ROOT, pattern  # noqa: E402

FOLDER = os.path.join(ROOT, "build", "coverage")
KEPT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "unrun.txt")
FLAGS = "-O0 -g1 --coverage"
GOAL_LINES, GOAL_BRANCHES = 0.95, 0.90


def build():
    """Builds program and tests; counts of earlier runs are taken away."""
    for command in (["cmake", "-S", ROOT, "-B", FOLDER, "-G", "Ninja", "-DCMAKE_C_COMPILER=gcc", "-DCMAKE_BUILD_TYPE=None",
                     f"-DCMAKE_C_FLAGS={FLAGS}", "-DBUILD_TESTING=ON"],
                    ["cmake", "--build", FOLDER, "-j", str(clang.JOBS)]):
        run = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if run.returncode:
            sys.exit(run.stdout[-6000:])
    for path in glob.glob(os.path.join(FOLDER, "**", "*.gcda"), recursive=True):
        os.remove(path)


def run_tests():
    return subprocess.run(["ctest", "--test-dir", FOLDER, "--output-on-failure", "--no-tests=error", "-j",
                           str(clang.JOBS), "-E", pattern(ELSEWHERE)], env=dict(os.environ, GAINWALK_SANITIZED="1"),
                          check=False).returncode == 0


class Source:
    """Of one file: how often each line ran, and each way out of it."""

    def __init__(self):
        self.lines = collections.Counter()
        self.ways = collections.Counter()  # of (line, number)

    def add(self, line):
        number = line["line_number"]
        self.lines[number] += line["count"]
        for which, way in enumerate(line["branches"]):
            self.ways[number, which] += way["count"]


def told_by(notes):
    """What gcov says of one object: [(file, lines)]. Without counts of a run, its notes alone: nothing ran."""
    counts = notes[:-len("gcno")] + "gcda"
    told = subprocess.run(["gcov", "--json-format", "--branch-probabilities", "--stdout",
                           counts if os.path.exists(counts) else notes],
                          cwd=FOLDER, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=True).stdout.decode()
    for text in told.splitlines():
        for file in json.loads(text)["files"]:
            yield os.path.normpath(file["file"]), file["lines"]


def gather():
    """{path: Source} of every file below src/ that makes code; the same file in several programs counts once."""
    sources = {}
    for notes in sorted(glob.glob(os.path.join(FOLDER, "**", "src", "**", "*.gcno"), recursive=True)):
        for path, lines in told_by(notes):
            if path.startswith("src" + os.sep):
                for line in lines:
                    sources.setdefault(path, Source()).add(line)
    everything = {os.path.relpath(path, ROOT) for path in glob.glob(os.path.join(ROOT, "src", "*", "*.c"))}
    # a file of tables alone holds no code
    missing = {path for path in everything - set(sources) if re.search(r"^\S.*\) \{$", "\n".join(text_of(path)), re.M)}
    if missing:
        sys.exit(f"gcov: nothing is known of {', '.join(sorted(missing))}")
    return sources


def ran(counter):
    return sum(1 for count in counter.values() if count > 0)


def text_of(path):
    with open(os.path.join(ROOT, path), encoding="utf-8") as file:
        return file.read().split("\n")


def key_of(path, text):
    return f"{path}: {' '.join(text.split())}"


def unrun(sources):
    """{key: count} of lines that never ran, and {key: count} of all others; a line is known by its text, not its number."""
    never, run = collections.Counter(), collections.Counter()
    for path, source in sources.items():
        text = text_of(path)
        for number, count in source.lines.items():
            (run if count else never)[key_of(path, text[number - 1])] += 1
    return never, run


def kept():
    """{key: reason} of the list: a reason stands above its lines, behind `== `."""
    reasons, reason = {}, None
    with open(KEPT, encoding="utf-8") as file:
        for line in file.read().splitlines():
            if line.startswith("== "):
                reason = line[3:]
            elif re.match(r"\S+: \S", line) and not line.startswith("#"):
                if not reason:
                    sys.exit(f"gcov: unrun.txt gives no reason for '{line}'")
                reasons[line] = reason
    return reasons


def complaints(sources, list_of_kept):
    never, run = unrun(sources)
    for key in sorted(set(never) - set(list_of_kept)):
        yield f"no test runs it, and unrun.txt gives no reason: {key}"
    for key in sorted(set(list_of_kept) - set(never)):
        print(f"in unrun.txt, but {'run' if key in run else 'not in the source'}: {key}")


def share(part, whole):
    return part / whole if whole else 1.0


def print_table(sources):
    """Each file's shares, and the sums: (lines, branches) as shares."""
    sums = [0, 0, 0, 0]
    print(f"{'file':36} {'lines':>16} {'branches':>16}")
    for path in sorted(sources):
        row = [ran(sources[path].lines), len(sources[path].lines), ran(sources[path].ways), len(sources[path].ways)]
        sums = [one + other for one, other in zip(sums, row)]
        print(f"{path:36} {row[0]:5}/{row[1]:5} {100 * share(*row[:2]):4.0f}% {row[2]:5}/{row[3]:5} {100 * share(*row[2:]):4.0f}%")
    print(f"{'all':36} {sums[0]:5}/{sums[1]:5} {100 * share(*sums[:2]):.1f}% {sums[2]:5}/{sums[3]:5} {100 * share(*sums[2:]):.1f}%")
    return share(*sums[:2]), share(*sums[2:])


def print_ways(sources):
    """Every line with a way out of it that was never taken, for who looks for the test that is missing."""
    for path in sorted(sources):
        text = text_of(path)
        for number in sorted({line for (line, _), count in sources[path].ways.items() if count == 0}):
            ways = [count for (line, _), count in sorted(sources[path].ways.items()) if line == number]
            print(f"{path}:{number}: {sum(1 for way in ways if way == 0)} of {len(ways)}: {text[number - 1].strip()}")


def main():
    options = sys.argv[1:]
    unknown = [word for word in options if word not in ("--again", "--ways")]
    if unknown:
        print(f"gcov: unknown option '{unknown[0]}' (there are: --again, --ways)", file=sys.stderr)
        sys.exit(2)
    passed = True
    if "--again" not in options:
        build()
        passed = run_tests()
    sources = gather()
    if "--ways" in options:
        print_ways(sources)
    wrong = [] if passed else ["a test failed"]
    lines, ways = print_table(sources)
    wrong += complaints(sources, kept())
    if lines < GOAL_LINES:
        wrong.append(f"lines: {100 * lines:.1f} %, below {100 * GOAL_LINES:.0f} %")
    if ways < GOAL_BRANCHES:
        wrong.append(f"branches: {100 * ways:.1f} %, below {100 * GOAL_BRANCHES:.0f} %")
    print("\n".join(wrong) or "passed")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
