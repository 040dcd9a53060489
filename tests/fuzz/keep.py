"""Of all that fuzzing has learnt, the inputs that it takes to come to the same code: kept/TARGET.zip beside this file."""

import os
import tempfile
import zipfile

from build import run
from seeds import seeds

HERE = os.path.dirname(os.path.abspath(__file__))


def pack(folder, path):
    """One archive of a folder's files, the same bytes for the same content."""
    names = sorted(os.listdir(folder))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in names:
            with open(os.path.join(folder, name), "rb") as file:
                archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), file.read(), zipfile.ZIP_DEFLATED)
    return len(names)


def keep(programs, targets, corpora):
    """0 when every target's archive was written anew, from its corpus, its seeds and what it keeps already."""
    os.makedirs(os.path.join(HERE, "kept"), exist_ok=True)
    for target in targets:
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(HERE, "kept", target + ".zip")
            merged, old, corpus = (os.path.join(folder, name) for name in ("merged", "old", "corpus"))
            for each in (merged, old):
                os.makedirs(each)
            if os.path.exists(path):
                with zipfile.ZipFile(path) as archive:
                    archive.extractall(old)
            seeds(target, corpus)
            learnt = os.path.join(corpora, target)
            done = run(programs, target, ["-merge=1", "-use_counters=0", "-max_len=16384", merged, old, corpus] +
                       ([learnt] if os.path.isdir(learnt) else []), folder)
            if done.returncode:
                print(done.stdout.decode(errors="replace")[-2000:])
                return 1
            print(f"{target}: {pack(merged, path)} inputs, {os.path.getsize(path)} bytes", flush=True)
    return 0
