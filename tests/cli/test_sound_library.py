"""The library for sound files is loaded when a file needs it: plain WAV is read without it, other kinds say clearly that it is
missing, is none, or lacks what is asked of it."""

import json
import math
import os
import shutil
import struct
import subprocess
import sys
import tempfile

PROGRAM = os.environ["GAINWALK"]
LIBRARY = "libsndfile.so.1"
RATE, COUNT = 48000, 4800


def samples():
    """Half of full scale at 1 kHz, 16 bits."""
    return [round(16384 * math.sin(2 * math.pi * 1000 * k / RATE)) for k in range(COUNT)]


def wav(path):
    with open(path, "wb") as file:
        file.write(b"RIFF" + struct.pack("<I", 36 + 2 * COUNT) + b"WAVEfmt " +
                   struct.pack("<IHHIIHH", 16, 1, 1, RATE, 2 * RATE, 2, 16) + b"data" + struct.pack("<I", 2 * COUNT) +
                   struct.pack(f"<{COUNT}h", *samples()))


def other(path):
    """The container with the shortest heading of those that are not decoded here: big-endian samples behind six words."""
    with open(path, "wb") as file:
        file.write(b".snd" + struct.pack(">IIIII", 24, 2 * COUNT, 3, RATE, 1) + struct.pack(f">{COUNT}h", *samples()))


def measured(path, libraries=None):
    """(status, level in full scales, what was said) of a file, with the libraries of a folder before those of the system."""
    environment = dict(os.environ, **({"LD_LIBRARY_PATH": libraries} if libraries else {}))
    run = subprocess.run([PROGRAM, "measure", "--json", path], env=environment, capture_output=True, text=True, check=False)
    level = json.loads(run.stdout)["captures"][0]["readings"]["ac_rms"]["value"] if run.returncode == 0 else None
    return run.returncode, level, run.stderr


def false_libraries(folder):
    """Folders with a library that is none, and one that has none of the functions."""
    empty = os.path.join(folder, "none")
    os.mkdir(empty)
    with open(os.path.join(empty, LIBRARY), "wb"):
        pass
    yield empty
    compiler = shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")
    if compiler:
        strange = os.path.join(folder, "strange")
        os.mkdir(strange)
        source = os.path.join(folder, "strange.c")
        with open(source, "w", encoding="ascii") as file:
            file.write("int nothing(void);\nint nothing(void) { return 0; }\n")
        subprocess.run([compiler, "-shared", "-fPIC", source, "-o", os.path.join(strange, LIBRARY)], check=True)
        yield strange


def main():
    with tempfile.TemporaryDirectory() as folder:
        plain, foreign = os.path.join(folder, "a.wav"), os.path.join(folder, "a.au")
        wav(plain)
        other(foreign)
        right = 0.5 / math.sqrt(2)  # of a sine: closed form
        wrong = []

        def expect(what, holds, seen):
            if not holds:
                wrong.append(f"{what}: {seen}")

        for path in (plain, foreign):
            seen = measured(path)
            expect(f"{path} as it is", seen[0] == 0 and abs(seen[1] - right) < 1e-5, seen)
        for libraries in false_libraries(folder):
            seen = measured(plain, libraries)
            expect(f"plain, {libraries}", seen[0] == 0 and abs(seen[1] - right) < 1e-5, seen)
            status, _, said = measured(foreign, libraries)
            expect(f"not plain, {libraries}", status == 2 and "a.au" in said and LIBRARY in said, (status, said))
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
