"""Runs of the fuzz targets, which are part of the build that clang's checks share (tests/builds/clang.py)."""

import os
import subprocess
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), "builds"))
import clang  # noqa: E402

ROOT, available = clang.ROOT, clang.available


def build(targets):
    """The folder of the programs."""
    return os.path.join(clang.build(["fuzz_" + target for target in targets]), "tests", "fuzz")


def run(programs, target, arguments, folder):
    """A finished run of one target in `folder`, which takes its artifacts. Both standard streams of the target are
    closed: only the fuzzer and the sanitizers speak."""
    environment = dict(os.environ, UBSAN_OPTIONS="print_stacktrace=1", ASAN_OPTIONS="detect_leaks=1")
    return subprocess.run([os.path.join(programs, "fuzz_" + target), "-close_fd_mask=3", "-timeout=240", "-rss_limit_mb=2560",
                           "-artifact_prefix=" + folder + os.sep] + arguments, stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, env=environment)
