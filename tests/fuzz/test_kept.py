"""The fuzz targets, built like any test, on what long fuzzing has kept: inputs that each come to code that no other does
(kept/TARGET.zip, written by `scripts/fuzz --keep`), and every input that once broke something (found/TARGET/)."""

import glob
import os
import subprocess
import sys
import tempfile
import zipfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from seeds import TARGETS  # noqa: E402

HERE = os.path.dirname(os.path.abspath(__file__))
PROGRAMS = os.path.join(os.path.dirname(os.environ["GAINWALK"]), "tests")
LEAST = 40  # inputs of a target
BATCH = 500


def replay(target, paths):
    """What went wrong on these files, or None."""
    for first in range(0, len(paths), BATCH):
        batch = paths[first:first + BATCH]
        done = subprocess.run([os.path.join(PROGRAMS, "replay_" + target), *batch], stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, check=False)
        if done.returncode or not done.stdout.endswith(b"%d done\n" % len(batch)):
            return f"{target}: status {done.returncode}: " + done.stderr.decode(errors="replace")[-600:]
    return None


def attempt(target):
    with tempfile.TemporaryDirectory() as folder:
        with zipfile.ZipFile(os.path.join(HERE, "kept", target + ".zip")) as archive:
            names = archive.namelist()
            if any(os.path.basename(name) != name for name in names):
                return f"{target}: names with folders in kept/{target}.zip"
            archive.extractall(folder)
        if len(names) < LEAST:
            return f"{target}: only {len(names)} inputs"
        paths = [os.path.join(folder, name) for name in sorted(names)]
        return replay(target, sorted(glob.glob(os.path.join(HERE, "found", target, "*"))) + paths)


def main():
    if replay("quantity", [os.path.join(HERE, "nowhere")]) is None:
        sys.exit("self-test: a run that fails passes")
    wrong = [told for told in map(attempt, TARGETS) if told]
    print("\n".join(wrong))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
