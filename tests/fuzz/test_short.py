"""Every fuzz target: what once was a fault, the seeds, then a fixed number of runs from a fixed seed. No clock decides.
The long runs are scripts/fuzz."""

import glob
import os
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from build import available, build, run  # noqa: E402
from seeds import TARGETS, dictionary, seeds  # noqa: E402

HERE = os.path.dirname(os.path.abspath(__file__))
RUNS = {"csv": 1000, "wav": 2000, "chain": 2000, "record": 800, "quantity": 10000, "command": 1000, "measure": 300, "walk": 3000}
LEAST_SEEDS = {"csv": 150, "wav": 30, "chain": 100, "record": 3, "quantity": 100, "command": 100, "measure": 150, "walk": 100}


def attempt(programs, target):
    """A sentence on what is wrong with a target, or None."""
    with tempfile.TemporaryDirectory() as folder:
        corpus, words = os.path.join(folder, "seeds"), os.path.join(folder, "words.dict")
        count = seeds(target, corpus)
        if count < LEAST_SEEDS[target]:
            return f"{target}: only {count} seeds"
        if dictionary(target, words) < 10:
            return f"{target}: no dictionary"
        found = sorted(glob.glob(os.path.join(HERE, "found", target, "*")))
        if found:
            again = run(programs, target, found, folder)
            if again.returncode:
                return f"{target}: a fault that was mended is back\n" + again.stdout.decode(errors="replace")[-4000:]
        fresh = run(programs, target, [f"-runs={RUNS[target]}", "-seed=20261125", "-max_len=8192", "-dict=" + words, corpus],
                    folder)
        told = fresh.stdout.decode(errors="replace")
        if fresh.returncode:
            return f"{target}: {told[-4000:]}"
        # one more each time that it runs an input twice, to see whether memory was lost
        done = re.search(r"^#(\d+)\tDONE", told, re.MULTILINE)
        if done is None or int(done.group(1)) < RUNS[target]:
            return f"{target}: fewer runs than asked for\n" + told[-1000:]
    return None


def notices():
    """Self-test: a target that reads behind its input's end is caught by the same way of running."""
    with tempfile.TemporaryDirectory() as folder:
        source = os.path.join(folder, "a.c")
        with open(source, "w", encoding="ascii") as file:
            file.write("#include <stddef.h>\n#include <stdint.h>\n"
                       "int LLVMFuzzerTestOneInput(const uint8_t *b, size_t n) { return n > 2 && b[n] == 300; }\n")
        subprocess.run(["clang", "-w", "-fsanitize=fuzzer,address", source, "-o", os.path.join(folder, "fuzz_wrong")],
                       check=True)
        caught = run(folder, "wrong", ["-runs=100", "-seed=1"], folder)
        return caught.returncode != 0 and b"heap-buffer-overflow" in caught.stdout


def main():
    if not available():
        print("clang with libFuzzer is missing")
        sys.exit(77)
    if not notices():
        sys.exit("self-test: reading behind the end of the input passes")
    programs = build(TARGETS)
    wrong = [told for told in (attempt(programs, target) for target in TARGETS) if told]
    print("\n".join(wrong))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
