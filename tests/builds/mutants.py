"""How many flipped operators of src/measure and src/walk the tests notice. `scripts/mutants` calls it.

All mutants are compiled into one build below build/mutants, of a copy of the sources. A first run of each test, with none
alive, tells how long it takes and which mutants it comes to; each mutant then lives through the tests that come to it, the
shortest first, until one fails or goes on for ever. Who survives is tried again in a build under AddressSanitizer and
UndefinedBehaviorSanitizer, as the suite is. With --tests those that survived so far live through the named tests alone: there
too a mutant is caught only where a test fails. What cannot be told from the original at all is argued in equal.txt beside
this file: it counts as not caught, and is shown apart."""

import argparse
import concurrent.futures
import filecmp
import glob
import hashlib
import json
import math
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import clang  # noqa: E402
from mutate import SWITCH, describe, rewrite, sites_of  # noqa: E402

ROOT = clang.ROOT
INTO = os.path.join(ROOT, "build", "mutants")
COPY = os.path.join(INTO, "source")
RESULTS = os.path.join(INTO, "results.json")
DRAW = os.path.join(INTO, "draw.json")
EQUAL = os.path.join(os.path.dirname(os.path.abspath(__file__)), "equal.txt")
ROOMS = ("measure", "walk")
# The tests that know what is right: fast ones of the rooms, published values, whole commands, simulated chains.
TESTS = r"^(measure|walk|standards|chain|record|report|reference|campaign)/|^cli/test_(commands|sweep|response|learn|lines|tone)|" \
        r"^samples/test_verdicts|^capture/test_long|^faults/"
BUILDS = {"plain": ["-DCMAKE_C_COMPILER=gcc", "-DCMAKE_BUILD_TYPE=RelWithDebInfo"],
          "sanitized": ["-DCMAKE_C_COMPILER=clang", "-DCMAKE_BUILD_TYPE=None", f"-DCMAKE_C_FLAGS={clang.FLAGS}"]}
GOAL = 0.90
COMMON = {"plain": {}, "sanitized": {"ASAN_OPTIONS": "detect_leaks=0", "UBSAN_OPTIONS": "print_stacktrace=0",
                                     "GAINWALK_SANITIZED": "1"}}


def flags():
    """Where the sources find their headers, as the build has them."""
    told = subprocess.run(["pkg-config", "--cflags", "sndfile", "kissfft-float", "inih", "jansson", "nettle"],
                          stdout=subprocess.PIPE, check=True, text=True).stdout.split()
    return ["-D_POSIX_C_SOURCE=200809L", f"-I{ROOT}/include", f"-I{ROOT}/src", *told]


def lot(seed, words):
    """What the draw makes of a place or a mutant: the same for the same words, whatever stands elsewhere in the sources."""
    return hashlib.sha256(f"{seed} {words}".encode()).hexdigest()


def choose(count, seed):
    """Mutants drawn from all that there are, none twice at one place: {number: Site}. A change of the sources brings others
    only for what it changes itself; of places with the same words in one function the first stands for all."""
    paths = sorted(os.path.relpath(path, ROOT) for room in ROOMS for path in glob.glob(os.path.join(ROOT, "src", room, "*.c")))
    places, total = {}, set()
    for path in paths:
        for site in sites_of(ROOT, path, flags()):
            words = describe(ROOT, site).rpartition(": ")[0]
            ways = places.setdefault(words, [])
            total.add((path, site.left_end, site.begin))
            if not ways or (ways[0].begin, ways[0].left_end) == (site.begin, site.left_end):
                ways.append(site)
    drawn = sorted(places, key=lambda words: lot(seed, words))[:count]
    print(f"{len(total)} operators in {len(paths)} files, {len(drawn)} of them flipped, seed {seed}", flush=True)
    sites = [min(places[words], key=lambda site: lot(seed, describe(ROOT, site))) for words in drawn]
    return dict(enumerate(sorted(sites, key=lambda site: (site.path, site.left_end, site.begin)), 1))


def write_copy(chosen):
    """A copy of the sources with the mutants in it; files that stay the same keep their age."""
    fresh = COPY + ".new"
    shutil.rmtree(fresh, ignore_errors=True)
    shutil.copytree(ROOT, fresh, ignore=shutil.ignore_patterns("build*", ".git", "node_modules", "__pycache__"), symlinks=True)
    shutil.copytree(os.path.join(ROOT, "tests", "builds"), os.path.join(fresh, "tests", "builds"), dirs_exist_ok=True)
    for path in {site.path for site in chosen.values()}:
        rewrite(fresh, path, [(number, site) for number, site in chosen.items() if site.path == path])
    with open(os.path.join(fresh, "src", "base", "mutant_switch.c"), "w", encoding="ascii") as file:
        file.write(SWITCH % (len(chosen) + 1))
    put_in_place(fresh)
    shutil.rmtree(fresh)


def put_in_place(fresh):
    """Makes COPY the same as `fresh`; what is the same already stays untouched, so that it is not built again."""
    for folder, _, names in os.walk(fresh):
        target = os.path.join(COPY, os.path.relpath(folder, fresh))
        os.makedirs(target, exist_ok=True)
        for name in set(os.listdir(target)) - set(os.listdir(folder)):
            gone = os.path.join(target, name)
            (shutil.rmtree if os.path.isdir(gone) else os.remove)(gone)
        for name in names:
            one, other = os.path.join(folder, name), os.path.join(target, name)
            if not os.path.exists(other) or not filecmp.cmp(one, other, shallow=False):
                shutil.copy(one, other)


def build(name):
    """The build's folder, and whether anything in it is new."""
    folder = os.path.join(INTO, name)
    run = None
    for command in (["cmake", "-S", COPY, "-B", folder, "-G", "Ninja", "-DGAINWALK_WERROR=OFF", "-DBUILD_TESTING=ON",
                     *BUILDS[name]],
                    ["cmake", "--build", folder, "-j", str(clang.JOBS)]):
        run = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if run.returncode:
            sys.exit("mutants: the build failed\n" + run.stdout[-6000:])
    return folder, "no work to do" not in run.stdout


def tests_of(folder):
    """{name: (command, environment)} of the build's tests that judge mutants."""
    told = json.loads(subprocess.run(["ctest", "--show-only=json-v1"], cwd=folder, stdout=subprocess.PIPE, check=True).stdout)
    out = {}
    for test in told["tests"]:
        extra = next((held["value"] for held in test["properties"] if held["name"] == "ENVIRONMENT"), [])
        if re.search(TESTS, test["name"]):
            out[test["name"]] = (test["command"], dict(pair.split("=", 1) for pair in extra))
    return out


def run_test(test, folder, mutant, cpu_s, extra=None):
    """The status of a test with one mutant alive; a test that takes far too long has failed as well."""
    command, own = test
    environment = dict(os.environ, **own, **COMMON[os.path.basename(folder)], GAINWALK_MUTANT=str(mutant), **(extra or {}))
    limit = int(cpu_s) + 1
    try:
        return subprocess.run(command, cwd=folder, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                              stderr=subprocess.DEVNULL, check=False, timeout=20 * limit,
                              preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))).returncode
    except subprocess.TimeoutExpired:
        return -1


def survey(folder, count, wanted, limit_s, again):
    """[(seconds, name, test, mutants that it comes to)], the shortest first, with no mutant alive, of the tests that `wanted`
    takes. Seconds are of processor time; what takes more than `limit_s` is left out. It is kept with the build: tests that
    are known are not run again unless `again` says so."""
    path = folder + "-survey.json"
    rows = [(seconds, name, test, set(found)) for seconds, name, test, found in load(path, [])]
    rows = [row for row in rows if not (again and wanted(row[1]))]
    known = {row[1] for row in rows}
    for name, test in tests_of(folder).items():
        if name in known or not wanted(name):
            continue
        with tempfile.TemporaryDirectory() as scratch:
            seen = os.path.join(scratch, "seen")
            began = used_s()
            status = run_test(test, folder, 0, limit_s, {"GAINWALK_MUTANTS_SEEN": seen})
            if status != 0:  # skipped, too slow, or it compiles single sources by itself and lacks the switch
                print(f"left out: {name}, status {status} with no mutant alive, {used_s() - began:.1f} s", flush=True)
                continue
            found = set()
            if os.path.exists(seen):
                with open(seen, encoding="ascii") as file:
                    found = {int(line) for line in file}
            rows.append((used_s() - began, name, test, found))
    rows.sort(key=lambda row: row[0])
    with open(path, "w", encoding="utf-8") as file:
        json.dump([(seconds, name, test, sorted(found)) for seconds, name, test, found in rows], file)
    rows = [row for row in rows if wanted(row[1]) and row[0] <= limit_s]
    reached = set().union(*(row[3] for row in rows))
    print(f"{len(rows)} tests, {sum(row[0] for row in rows):.0f} s; they come to {len(reached)} of {count} mutants", flush=True)
    return rows


def used_s():
    """Processor time that programs run from here have taken so far, s."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def judge(rows, folder, number):
    """The test that notices a mutant, or None."""
    for seconds, name, test, found in rows:
        if number in found and run_test(test, folder, number, 10 * seconds + 10) not in (0, 77):
            return name
    return None


def load(path, default):
    if not os.path.exists(path):
        return default
    with open(path, encoding="utf-8") as file:
        return json.load(file)


def argued():
    """Mutants of equal.txt; the argument stands above each, behind `== `."""
    with open(EQUAL, encoding="utf-8") as file:
        return {line for line in file.read().splitlines() if line.startswith("src/")}


def keep_draw(chosen):
    """Forgets which tests come to which mutants where the mutants are others than last time."""
    told = [describe(ROOT, site) for site in chosen.values()]
    if load(DRAW, None) != told:
        for path in glob.glob(os.path.join(INTO, "*-survey.json")):
            os.remove(path)
    with open(DRAW, "w", encoding="utf-8") as file:
        json.dump(told, file)


def stage(name, chosen, results, options):
    """Tries those who have survived so far in one build."""
    told = {number: describe(ROOT, site) for number, site in chosen.items()}
    done = ("caught",) if options.tests else ("caught", "survived " + name)
    open_ones = [number for number in options.numbers or chosen if not results.get(told[number], "").startswith(done)]
    random.Random(options.seed).shuffle(open_ones)  # so that a run that is stopped has met all kinds
    if not open_ones:
        return
    folder, is_new = build(name)
    timed = load(os.path.join(INTO, "plain-survey.json"), [])
    quick = {row[1] for row in timed if row[0] <= options.slowest}
    if options.tests:
        rows = survey(folder, len(chosen), lambda test: re.search(options.tests, test), 3600, is_new)
    elif name == "plain":
        rows = survey(folder, len(chosen), lambda test: True, min(options.slowest, 3600), is_new)
    else:
        rows = survey(folder, len(chosen), lambda test: test in quick, 3600, is_new)
    print(f"{name}: {len(open_ones)} mutants through {len(rows)} tests", flush=True)
    lock = threading.Lock()

    def attempt(number):
        by = judge(rows, folder, number)
        with lock:
            if by:
                results[told[number]] = f"caught by {by}, {name}"
            elif not options.tests:  # all tests were asked
                results[told[number]] = f"survived {name}"
            with open(RESULTS, "w", encoding="utf-8") as file:
                json.dump(results, file, indent=1)
            if options.verbose or not by:
                how = results.get(told[number], "not tried")
                print(f"{number}: {how}: {chosen[number].path}:{chosen[number].line}: {told[number]}", flush=True)

    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        list(pool.map(attempt, open_ones))


def tell(chosen, results):
    told = [describe(ROOT, site) for site in chosen.values()]
    caught = [one for one in told if results.get(one, "").startswith("caught")]
    equal = [one for one in told if one not in caught and one in argued()]
    wrong = sorted(set(argued()) & set(caught))
    for one in told:
        if one not in caught and one not in equal:
            print(f"SURVIVED {one}")
    for one in wrong:
        print(f"argued to be equal in equal.txt, but caught: {one}")
    share = len(caught) / len(told)
    print(f"{len(told)} mutants: {len(caught)} caught ({100 * share:.1f} %), {len(equal)} equal to the original as argued, "
          f"{len(told) - len(caught) - len(equal)} survived; {sum('sanitized' in results[one] for one in caught)} of the caught "
          "by the sanitizers")
    return share >= GOAL and not wrong


def main():
    parser = argparse.ArgumentParser(prog="mutants", description="How many flipped operators the tests notice.")
    parser.add_argument("count", nargs="?", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20261128)
    parser.add_argument("--jobs", type=int, default=clang.JOBS, help="mutants tried at a time")
    parser.add_argument("--slowest", type=float, default=math.inf, help="leave out tests that take longer than so many seconds")
    parser.add_argument("--go-on", action="store_true", help="go on where an earlier run was stopped, with its copy of all")
    parser.add_argument("--again", action="store_true", help="try those again that survived, with the tests as they are now")
    parser.add_argument("--tests", metavar="REGEX",
                        help="try those again that survived, with these tests only, however long they take; in the plain build")
    parser.add_argument("--build", choices=BUILDS, help="use this build only")
    parser.add_argument("--numbers", metavar="N,N", type=lambda text: [int(part) for part in text.split(",")],
                        help="try these mutants only")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    os.makedirs(INTO, exist_ok=True)
    chosen = choose(options.count, options.seed)
    results = load(RESULTS, {}) if options.go_on or options.again or options.tests else {}
    if options.again:
        results = {told: how for told, how in results.items() if how.startswith("caught")}
    if not (options.go_on and os.path.exists(COPY)):
        write_copy(chosen)
    keep_draw(chosen)
    for name in [options.build] if options.build else ["plain"] if options.tests else BUILDS:
        stage(name, chosen, results, options)
    sys.exit(0 if tell(chosen, results) else 1)


if __name__ == "__main__":
    main()
