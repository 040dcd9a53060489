#!/usr/bin/python3
"""SciPy's own WAV test files: read as scipy.io.wavfile reads them, or refused with a sentence."""
import glob
import json
import os
import subprocess
import sys
import warnings

import numpy
import scipy.io.wavfile

SKIPPED = 77


def full_scale(samples):
    """What SciPy's integers are divided by; 24 bits come at the top of 32."""
    if samples.dtype == numpy.uint8:
        return (samples.astype(float) - 128) / 128
    if samples.dtype.kind == "i":
        return samples / 2.0 ** (8 * samples.dtype.itemsize - 1)
    return samples.astype(float)


# Byte rate and block size are nonsense here: SciPy refuses, but the samples are those of the file named beside it.
TWINS = {"test-8000Hz-le-3ch-5S-24bit-inconsistent.wav": "test-8000Hz-le-3ch-5S-24bit.wav"}


def check(path, answer):
    """None where the program's answer is SciPy's, else what differs. `refused` is returned for a refusal."""
    path = os.path.join(os.path.dirname(path), TWINS.get(os.path.basename(path), os.path.basename(path)))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            rate, samples = scipy.io.wavfile.read(path)
    except Exception as problem:  # SciPy refuses it: so may we, or find something
        return "refused" if "error" in answer else "read, where SciPy says %s" % problem
    if "error" in answer:
        return "refused"
    values = full_scale(samples.reshape(len(samples), -1))
    if rate != answer["rate_hz"] or len(values) != answer["samples"] or values.shape[1] != len(answer["channels"]):
        return "%s Hz, %s samples, %d channels" % (answer["rate_hz"], answer["samples"], len(answer["channels"]))
    for channel, expected in zip(answer["channels"], values.T):
        first = numpy.array(channel["first"], dtype=float)
        told = [*first, channel["min"], channel["max"]]
        right = [*expected[:len(first)], expected.min(), expected.max()]
        if not numpy.allclose(told, right, rtol=0, atol=1e-12):
            return "channel %s: %s, SciPy reads %s" % (channel["number"], told, right)
    return None


def main():
    program = os.environ.get("GAINWALK", "")
    paths = sorted(glob.glob(os.path.join(os.path.dirname(scipy.io.__file__), "tests", "data", "*.wav")))
    if not program or not paths:
        print("no program, or SciPy came without its test files")
        return SKIPPED
    run = subprocess.run([program, "peek", "--json", *paths], capture_output=True, text=True, timeout=60)
    answers = json.loads(run.stdout)["captures"]
    wrong = len(answers) != len(paths)
    counts = {"read": 0, "refused": 0}
    for path, answer in zip(paths, answers):
        found = check(path, answer)
        counts["read" if found is None else "refused"] += 1
        print("%-70s %s" % (os.path.basename(path), answer.get("error") or found or "as SciPy"))
        wrong |= found not in (None, "refused") or (found == "refused" and not answer["error"].strip())
    print(counts)
    return 1 if wrong or counts["read"] < 13 else 0


if __name__ == "__main__":
    sys.exit(main())
