"""What the tests of this folder share: claims that are counted, captures written and measured by the program itself.

To import it is to skip the test (77) where NumPy, SciPy or the program are missing. A test ends with `end()`."""

import json
import math
import os
import subprocess
import sys

try:
    import numpy as np
    import scipy  # noqa: F401
    from scipy.io import wavfile
except ImportError:
    print("NumPy and SciPy are not installed")
    sys.exit(77)

PROGRAM = os.environ.get("GAINWALK", "")
if not PROGRAM:
    print("the program is not built")
    sys.exit(77)
failed, skipped = [], []


def claim(holds, what):
    """`what` must hold; what does not is told and counted."""
    if not holds:
        failed.append(what)
        print("FAIL", what)


def close(what, actual, expected, *tolerances):
    """`actual`, a number or an array, is finite and within each of the tolerances (absolute): first what is asked, then
    as near as it was."""
    apart = np.nan if actual is None else np.max(np.abs(np.asarray(actual) - np.asarray(expected)))
    shown = "off by" if np.size(actual) > 1 else "%s, expected %s, off by" % (actual, expected)
    for tolerance in tolerances:
        good = math.isfinite(apart) and apart <= tolerance
        print("%s %s: %s %.3g of %.3g" % ("ok  " if good else "FAIL", what, shown, apart, tolerance))
        if not good:
            failed.append(what)


def skip(what):
    """Something is missing on this machine: the test counts as skipped, whatever else it finds in order."""
    skipped.append(what)
    print("skipped, not on this machine:", what)


def end():
    print("%d claims failed" % len(failed))
    sys.exit(1 if failed else 77 if skipped else 0)


def measure(*words):
    """The captures of `gainwalk measure --json WORDS`."""
    told, _ = measure_to(0, *words)
    return told


def measure_to(status, *words):
    """The same, and standard error, where the exit status is to be `status`."""
    done = subprocess.run([PROGRAM, "measure", "--json", *words], capture_output=True, check=False)
    claim(done.returncode == status, "status %d of %s: %s" % (done.returncode, " ".join(words), done.stderr.decode()))
    return json.loads(done.stdout)["captures"] if done.stdout else [], done.stderr.decode()


def write_csv(path, samples, rate, form="%.9g", unit="V"):
    """A scope's table of seconds and `unit`."""
    with open(path, "w", encoding="ascii") as file:
        file.write("s,%s\n" % unit + "".join("%.12g,%s\n" % (i / rate, form % v) for i, v in enumerate(samples)))
    return path


def write_wav(path, rate, *channels, bits=32):
    """Channels of -1..1 as integers of 32 bits, of which the upper `bits` are used."""
    scale = 1 << (32 - bits)
    codes = np.round(np.stack(channels, 1) * (2**(bits - 1) - 1))
    wavfile.write(path, rate, np.squeeze(codes.astype(np.int64) * scale).astype(np.int32))
    return path
