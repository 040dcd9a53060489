"""The build that every check of clang's shares: library, program, tests and fuzz targets under AddressSanitizer and
UndefinedBehaviorSanitizer, ready for libFuzzer, warnings being errors. One is enough: its folder lies in the build folder, so
that whoever comes second only builds what changed; a lock makes those wait who come at the same time."""

import fcntl
import os
import shutil
import subprocess
import tempfile

ROOT = os.environ.get("GAINWALK_ROOT", os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__)))))
FLAGS = "-O1 -gline-tables-only -fno-omit-frame-pointer -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all"
JOBS = int(os.environ.get("CTEST_PARALLEL_LEVEL") or os.cpu_count() or 2)  # programs built, and tests run, at a time
ENTRY = "#include <stddef.h>\n#include <stdint.h>\nint LLVMFuzzerTestOneInput(const uint8_t *, size_t);\n" \
        "int LLVMFuzzerTestOneInput(const uint8_t *b, size_t n) { return b == 0 && n > 0; }\n"


def available():
    """Whether clang is here with the fuzzer's and the sanitizers' run-time libraries."""
    if not shutil.which("clang"):
        return False
    with tempfile.TemporaryDirectory() as folder:
        source = os.path.join(folder, "a.c")
        with open(source, "w", encoding="ascii") as file:
            file.write(ENTRY)
        return subprocess.run(["clang", "-fsanitize=fuzzer,address,undefined", source, "-o", source + ".out"],
                              capture_output=True, check=False).returncode == 0


def folder():
    """Where the build lies: beside the program under test, or in build/."""
    program = os.environ.get("GAINWALK")
    return os.path.join(os.path.dirname(program) if program else os.path.join(ROOT, "build"), "clang")


def build(targets=()):
    """Builds these targets, all without any; the build's folder. What failed said is an exception's text."""
    into = folder()
    os.makedirs(into, exist_ok=True)
    commands = [["cmake", "-S", ROOT, "-B", into, "-G", "Ninja", "-DCMAKE_C_COMPILER=clang", "-DBUILD_TESTING=ON",
                 "-DGAINWALK_FUZZ=ON", "-DGAINWALK_WERROR=ON", "-DCMAKE_BUILD_TYPE=None", f"-DCMAKE_C_FLAGS={FLAGS}"],
                ["cmake", "--build", into, "-j", str(JOBS)] + (["--target", *targets] if targets else [])]
    with open(os.path.join(into, "lock"), "w", encoding="ascii") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        for command in commands:
            run = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
            if run.returncode:
                raise RuntimeError(run.stdout[-6000:])
    return into
