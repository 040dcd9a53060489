"""Builds the fuzz targets with clang's libFuzzer under AddressSanitizer and UndefinedBehaviorSanitizer."""

import os
import shutil
import subprocess
import tempfile

ROOT = os.environ.get("GAINWALK_ROOT", os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__)))))
FLAGS = "-gline-tables-only -fno-omit-frame-pointer -Wno-pass-failed -fsanitize=fuzzer-no-link,address,undefined " \
        "-fno-sanitize-recover=all"
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


def build(folder, targets, level):
    """The folder of the programs built at -O`level`; the output of what failed as an exception."""
    commands = [["cmake", "-S", ROOT, "-B", folder, "-G", "Ninja", "-DCMAKE_C_COMPILER=clang", "-DBUILD_TESTING=OFF",
                 "-DGAINWALK_FUZZ=ON", "-DGAINWALK_WERROR=OFF", "-DCMAKE_BUILD_TYPE=None", f"-DCMAKE_C_FLAGS=-O{level} {FLAGS}"],
                ["cmake", "--build", folder, "-j", str(os.cpu_count() or 2), "--target"] + ["fuzz_" + t for t in targets]]
    for command in commands:
        run = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if run.returncode:
            raise RuntimeError(run.stdout[-4000:])
    return os.path.join(folder, "tests", "fuzz")


def run(programs, target, arguments, folder):
    """A finished run of one target in `folder`, which takes its artifacts. Both standard streams of the target are
    closed: only the fuzzer and the sanitizers speak."""
    environment = dict(os.environ, UBSAN_OPTIONS="print_stacktrace=1", ASAN_OPTIONS="detect_leaks=1")
    return subprocess.run([os.path.join(programs, "fuzz_" + target), "-close_fd_mask=3", "-timeout=240", "-rss_limit_mb=2560",
                           "-artifact_prefix=" + folder + os.sep] + arguments, stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, env=environment)
