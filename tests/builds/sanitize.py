"""The suite again in other builds, each in a folder of its own below build/. `scripts/test --sanitize [PART...]` calls it.

  address    all of it under AddressSanitizer, LeakSanitizer and UndefinedBehaviorSanitizer (clang)
  threads    what runs side by side, under ThreadSanitizer (clang, whose OpenMP tells the sanitizer what waits for what)
  memcheck   a chosen part under valgrind
  gcc-O0, gcc-O3, clang-O0, clang-O3   all of it; at -O3 with _FORTIFY_SOURCE=3
  tidy       clang-tidy over the sources, its checks as .clang-tidy states them (ten minutes of processor time)
  quick      what a machine without a person has time for: the program's tests of `address` that are short, and `threads`

These builds are slow: where a test draws many cases at random, it draws a fifth as many here (tests/trials.h,
GAINWALK_SANITIZED), and tests/standards/test_uncertainty.py judges no shares. No test is left out for that. How many are built
and run at a time: CTEST_PARALLEL_LEVEL, or as many as there are processors.

Before a part begins, its tool has to find a planted fault, and nothing in a program without one. What a tool reports is kept
in a file as well, so that a test which expects the program to fail cannot swallow it."""

import concurrent.futures
import glob
import os
import re
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import clang  # noqa: E402

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
STATUS = 86  # of a program that a tool stopped; no test expects it

# What builds by itself, reads the sources or the machine code, or has nothing of the program's own code run.
ELSEWHERE = ["layout/", "fuzz/test_short", "install/", "browser/", "bench/", "samples/test_reproducible", "samples/test_library_use",
             "cli/test_scripts", "cli/test_cluster", "measure/test_vectors"]
# Memory is what these measure, and the tools need their own.
MEASURE_MEMORY = ["cli/test_memory", "capture/test_long"]
SIDE_BY_SIDE = ["capture/test_turns", "cli/test_lines", "cli/test_threads", "measure/test_crew", "measure/test_segments", "measure/test_run"]
# Left out of `quick`: minutes under the sanitizers; test_lines is in its other half, the threads.
LONG = ["campaign/", "standards/", "reference/", "measure/", "faults/", "capture/test_nasty", "cli/test_kills", "cli/test_watch",
        "cli/test_sweep", "cli/test_tone", "cli/test_response", "cli/test_learn", "cli/test_lines", "walk/test_waveforms"]
QUICK_TOO = ["measure/test_run", "measure/test_events", "measure/test_fit", "measure/test_segments"]
# capture_test_parse is not among them: valgrind computes the 80 bits of a long double in 64.
MEMCHECK = ["base_test_base", "base_test_number", "base_test_quantity", "base_test_file",
            "capture_test_capture", "capture_test_examples", "capture_test_hostile", "chain_test_bad_files",
            "chain_test_expectations", "chain_test_plain", "chain_test_reading", "chain_test_stages", "record_test_record",
            "record_test_compare", "record_test_hostile", "walk_test_dc", "walk_test_points", "walk_test_rails",
            "walk_test_search", "walk_test_judge", "measure_test_fit", "report_test_json"]

THREAD = "-O1 -gline-tables-only -fsanitize=thread"
FORTIFIED = "-O3 -g1 -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=3"
BUILDS = {
    "address": ("clang", clang.FLAGS), "threads": ("clang", THREAD), "memcheck": ("gcc", "-O1 -g1"),
    "gcc-O0": ("gcc", "-O0 -g1"), "gcc-O3": ("gcc", FORTIFIED),
    "clang-O0": ("clang", "-O0 -g1"), "clang-O3": ("clang", FORTIFIED),
}
PARTS = list(BUILDS) + ["tidy", "quick"]

PLANTED = {
    "address": ["#include <stdlib.h>\nint main(int n, char **a) { char *b = malloc(8); b[n + 7] = **a; return b[n]; }\n",
                "#include <stdlib.h>\nvoid *volatile kept;\nint main(void) { kept = malloc(8); kept = 0; return 0; }\n",
                "#include <limits.h>\nint main(int n, char **a) { return **a ? INT_MAX + n : 0; }\n"],
    "threads": ["int sum;\nint main(void) {\n#pragma omp parallel for num_threads(2)\n"
                "    for (int i = 0; i < 100000; i++)\n        sum += i;\n    return sum == 1;\n}\n"],
    "memcheck": ["#include <stdlib.h>\nint main(void) { int *b = malloc(8); int c = *b ? 1 : 2; free(b); return c; }\n"],
}
# Threads that wait for each other as they should, and memory that is given back: no tool may complain.
RIGHT = "#include <stdlib.h>\nint main(void) {\n    int sum = 0, *own = malloc(sizeof(int));\n" \
        "#pragma omp parallel for num_threads(2) reduction(+ : sum)\n    for (int i = 0; i < 1000; i++)\n        sum += i;\n" \
        "    *own = sum;\n    sum = *own != 499500;\n    free(own);\n    return sum;\n}\n"


def environment(part, found):
    """The tools' settings for a part: one status, and each report kept in the folder `found`."""
    common = f"exitcode={STATUS}:log_path={found}/report:print_stacktrace=1"
    # with threads of OpenMP about, clang 14's LeakSanitizer now and then breaks down over their thread-local storage
    # ("Tracer caught signal 11"), which is no report: it leaves that out, and what only that points to is in leaks.txt
    leaks = f"use_tls=0:print_suppressions=0:suppressions={os.path.join(ROOT, 'tests', 'builds', 'leaks.txt')}"
    # OpenMP looks for no tool in the program: the text of that failure would be a leak to look up at the end of every one.
    # ThreadSanitizer needs that tool: it tells what waits for what.
    tool = "enabled" if part == "threads" else "disabled"
    return dict(os.environ, OMP_TOOL=tool, ASAN_OPTIONS=common + ":detect_leaks=1:allocator_may_return_null=1",
                LSAN_OPTIONS=leaks, UBSAN_OPTIONS=common,
                TSAN_OPTIONS=common + ":ignore_noninstrumented_modules=1", GAINWALK_SANITIZED="1")


def valgrind(found):
    return ["valgrind", "-q", f"--error-exitcode={STATUS}", "--leak-check=full", "--errors-for-leak-kinds=definite,indirect",
            "--show-leak-kinds=definite,indirect", f"--log-file={found}/report.%p"]


def reports(found):
    """What the tools told, each once."""
    texts = []
    for path in sorted(glob.glob(os.path.join(found, "report*"))):
        with open(path, encoding="utf-8", errors="replace") as file:
            texts.append(file.read().strip())
    return [text for text in dict.fromkeys(texts) if text]


def lacking(part):
    """The tool that a part needs and this machine lacks, or None."""
    tools = [BUILDS[part][0]] + (["valgrind"] if part == "memcheck" else [])
    return next((tool for tool in tools if not shutil.which(tool)), None)


def outcome(part, source):
    """A program of its own built as a part's are and run under its tool: its status, and whether the tool reported."""
    compiler, flags = BUILDS[part]
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "a.c")
        with open(path, "w", encoding="ascii") as file:
            file.write(source)
        built = subprocess.run([compiler, "-w", *flags.split(), "-fopenmp", path, "-o", path + ".out"], capture_output=True,
                               check=False)
        if built.returncode:
            return None, False
        command = (valgrind(folder) if part == "memcheck" else []) + [path + ".out"]
        return subprocess.run(command, env=environment(part, folder), check=False).returncode, bool(reports(folder))


def unfit(part):
    """Why a part's tool cannot be relied upon here, or None: it has to find each planted fault and nothing in a right program."""
    if any(outcome(part, source) != (STATUS, True) for source in PLANTED.get(part, [])):
        return "a planted fault passes, or the compiler lacks the tool's run-time library"
    if outcome(part, RIGHT) != (0, False):
        return "a program without a fault does not pass"
    return None


def pattern(names):
    return "|".join("^" + re.escape(name) for name in names)


def selections(part):
    """ctest's arguments, one row a run."""
    if part == "threads":
        return [["-R", pattern(SIDE_BY_SIDE)]]
    if part == "quick":
        return [["-E", pattern(ELSEWHERE + MEASURE_MEMORY + LONG)], ["-R", pattern(QUICK_TOO)]]
    return [["-E", pattern(ELSEWHERE + (MEASURE_MEMORY if part == "address" else []))]]


def is_selected(name, part):
    return any((re.search(words, name) is not None) == (how == "-R") for how, words in selections(part))


def targets(part):
    """What a part has to build: the program and the C tests that it runs."""
    if part == "memcheck":
        return ["gainwalk"] + MEMCHECK
    sources = glob.glob(os.path.join(ROOT, "tests", "*", "test_*.c"))
    names = sorted(os.path.relpath(source, os.path.join(ROOT, "tests"))[:-2] for source in sources)
    replayed = glob.glob(os.path.join(ROOT, "tests", "fuzz", "*.c")) if is_selected("fuzz/test_kept", part) else []
    return ["gainwalk"] + [name.replace("/", "_") for name in names if is_selected(name, part)] + \
        ["replay_" + os.path.basename(source)[:-2] for source in replayed if not source.endswith("replay.c")]


def build(part):
    """The folder of a part's build, or None after its output was shown."""
    name = "address" if part == "quick" else part
    compiler, flags = BUILDS[name]
    if name == "address":
        try:
            return clang.build(targets(part))
        except RuntimeError as failed:
            print(failed)
            return None
    folder = os.path.join(ROOT, "build", name)
    warn = "ON" if name.startswith(("gcc", "clang")) else "OFF"  # sanitizers make a compiler warn of what is not there
    commands = [["cmake", "-S", ROOT, "-B", folder, "-G", "Ninja", f"-DCMAKE_C_COMPILER={compiler}", "-DCMAKE_BUILD_TYPE=None",
                 f"-DCMAKE_C_FLAGS={flags}", f"-DGAINWALK_WERROR={warn}", "-DBUILD_TESTING=ON"],
                ["cmake", "--build", folder, "-j", str(clang.JOBS), "--target", *targets(part)]]
    for command in commands:
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if done.returncode:
            print(done.stdout[-6000:])
            return None
    return folder


def drop_left_registrations():
    """clang's OpenMP registers itself in a shared file named after the process. One that was killed before it filled its
    file leaves it empty, and the next process of that number would end by a bus error."""
    for path in glob.glob("/dev/shm/__KMP_REGISTERED_LIB_*"):
        process = path.split("_")[-2]
        if not os.path.exists("/proc/" + process) and os.path.getsize(path) == 0:
            os.unlink(path)


def run_ctest(folder, part, found):
    """Whether every test of a part passed."""
    passed = True
    drop_left_registrations()
    for arguments in selections(part):
        command = ["ctest", "--test-dir", folder, "--output-on-failure", "--no-tests=error", "--timeout", "3000", "-j",
                   str(clang.JOBS), *arguments]
        passed = subprocess.run(command, env=environment(part, found), check=False).returncode == 0 and passed
    return passed


def commands_checked(program):
    """Whole commands for valgrind: reading, measuring, judging, telling in each form."""
    sample = os.path.join(ROOT, "samples", "leaky-capacitor", "before", "tarn.ini")
    captures = sorted(glob.glob(os.path.join(ROOT, "samples", "dead-stage", "captures", "*")))[:3]
    return [[program, "walk", sample], [program, "walk", "--json", sample], [program, "walk", "--html", "-", sample],
            [program, "measure", "--json", "--jobs", "1", *captures], [program, "peek", *captures],
            [program, "explain", "thd"], [program, "walk", os.path.join(ROOT, "nothing.ini")]]


def run_memcheck(folder, found):
    """Each chosen program under valgrind; whether none was complained of."""
    programs = [[os.path.join(folder, "tests", name)] for name in MEMCHECK]
    passed = True
    for command in programs + commands_checked(os.path.join(folder, "gainwalk")):
        done = subprocess.run(valgrind(found) + command, env=environment("memcheck", found), stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, cwd=folder, check=False)
        right = done.returncode in ((0, 1, 2, 3) if "gainwalk" in command[0] else (0,))
        print("%s %s" % ("passed" if right else "FAILED", " ".join(os.path.basename(word) for word in command)), flush=True)
        if not right:
            print(done.stdout.decode(errors="replace")[-3000:])
        passed = passed and right
    return passed


def tidy(database, source):
    """What clang-tidy says of one source, or None."""
    done = subprocess.run(["clang-tidy", "--quiet", "-p", database, source], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                          text=True, check=False)
    return done.stdout if done.returncode else None


def run_tidy():
    """clang-tidy over every source, as many at a time as there are processors."""
    if not shutil.which("clang-tidy"):
        return "skipped: clang-tidy is missing"
    database = os.path.join(ROOT, "build", "tidy")
    subprocess.run(["cmake", "-S", ROOT, "-B", database, "-G", "Ninja", "-DCMAKE_C_COMPILER=clang", "-DBUILD_TESTING=OFF",
                    "-DCMAKE_EXPORT_COMPILE_COMMANDS=ON"], stdout=subprocess.DEVNULL, check=True)
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(os.path.join(ROOT, ".clang-tidy"), folder)
        planted = os.path.join(folder, "a.c")
        with open(planted, "w", encoding="ascii") as file:
            file.write("int f(int *a);\nint f(int *a) {\n    if (a)\n        return 1;\n    return *a;\n}\n")
        if tidy(database, planted) is None:
            return "FAILED: a planted fault passes"
    sources = sorted(glob.glob(os.path.join(ROOT, "src", "*", "*.c")))
    with concurrent.futures.ThreadPoolExecutor(clang.JOBS) as pool:
        said = [text for text in pool.map(lambda source: tidy(database, source), sources) if text]
    print("\n".join(said))
    return "FAILED" if said else "passed"


def run_part(part):
    """Builds and runs one part: "passed", "FAILED" or "skipped: ..."."""
    if part == "tidy":
        return run_tidy()
    name = "address" if part == "quick" else part
    missing = lacking(name)
    if missing:
        return f"skipped: {missing} is missing"
    reason = unfit(name)
    if reason:
        return f"FAILED: {reason}"
    folder = build(part)
    if folder is None:
        return "FAILED: not built"
    with tempfile.TemporaryDirectory(prefix="gainwalk-sanitize-") as found:
        passed = run_memcheck(folder, found) if part == "memcheck" else run_ctest(folder, part, found)
        told = reports(found)
        for text in told[:10]:
            print(text[:4000])
        return "passed" if passed and not told else "FAILED" + (f": {len(told)} reports" if told else "")


def main():
    wanted = sys.argv[1:] or list(BUILDS) + ["tidy"]
    unknown = [part for part in wanted if part not in PARTS]
    if unknown:
        print(f"test: no part '{unknown[0]}' (there are: {', '.join(PARTS)})", file=sys.stderr)
        sys.exit(2)
    parts = [part for word in wanted for part in (["quick", "threads"] if word == "quick" else [word])]
    results = {}
    for part in parts:
        print(f"== {part}", flush=True)
        results[part] = run_part(part)
    print("\n".join(f"{part}: {result}" for part, result in results.items()))
    sys.exit(1 if any(result.startswith("FAILED") for result in results.values()) else 0)


if __name__ == "__main__":
    main()
