"""Seeds of the fuzz targets, from the tests' data and the samples: seeds(target, folder) writes them as files."""

import glob
import json
import os
import random
import re
import subprocess
import tempfile

ROOT = os.environ.get("GAINWALK_ROOT", os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__)))))
TARGETS = ["csv", "wav", "chain", "record", "quantity", "command", "measure", "walk"]
SIZE_MAX = 8192  # small seeds make many runs


def files(*patterns):
    for pattern in patterns:
        for path in sorted(glob.glob(os.path.join(ROOT, pattern), recursive=True)):
            if os.path.isfile(path):
                with open(path, "rb") as file:
                    yield file.read()


def texts():
    for text in files("tests/capture/data/*.csv", "tests/capture/data/*.txt", "tests/capture/own/*.csv", "tests/capture/own/*.txt"):
        yield text[:SIZE_MAX // 4]


def sounds():
    for sound in files("tests/capture/data/*.w*", "tests/capture/own/*.w*"):
        yield sound[:SIZE_MAX]


def captures():
    yield from texts()
    yield from sounds()


def chains():
    for text in files("samples/**/*.ini"):
        yield text
    # the chain tests keep theirs as strings in the code
    for text in files("tests/chain/test_*.c"):
        for literal in re.findall(rb'"((?:[^"\\]|\\.)*\\n(?:"\s*"(?:[^"\\]|\\.)*)*)"', text):
            yield re.sub(rb'"\s*"', b"", literal).replace(b"\\n", b"\n").replace(b'\\"', b'"')


def quantities():
    for text in files("tests/base/test_quantity.c", "tests/base/test_number.c"):
        yield from (word for word in re.findall(rb'"([^"\\\n]{1,40})"', text))


def commands():
    for text in files("tests/cli/cases/*"):
        for line in re.findall(rb"gainwalk ([^\n|>]*)", text):
            yield b"\n".join(word.strip(b"'\"") for word in line.split())


def shortened(value):
    """The same with its curves cut to a few points."""
    if isinstance(value, dict):
        return {key: min(held, 5) if key == "count" and held > 100 else shortened(held) for key, held in value.items()}
    if isinstance(value, list):
        return [shortened(held) for held in value[:5 if len(value) > 100 else None]]
    return value


def records():
    """Records that the program writes of small chains of meter readings; none without the program."""
    program = os.environ.get("GAINWALK")
    if not program:
        return
    chain = (b"[chain]\ntitle = two\nstimulus = sine 1 kHz 100 mV\n%s[point a]\nreading = 2.5 V\n[point b]\n"
             b"reading = 0.2 V\nstage = amp\ngain = 20 dB\n")
    rail = b"[rail plus]\nreading = 15.02 V\ndc = 12 V\n"
    with tempfile.TemporaryDirectory() as folder:
        own = os.path.join(folder, "c.ini")
        for number, text in enumerate([chain % b"", (chain % b"") + rail, None]):
            record = os.path.join(folder, f"{number}.json")
            if text is not None:
                with open(own, "wb") as file:
                    file.write(text)
            sample = os.path.join(ROOT, "samples", "leaky-capacitor", "before", "tarn.ini")
            subprocess.run([program, "walk", "--quiet", "--save", record, own if text is not None else sample],
                           check=False, capture_output=True)
            with open(record, "rb") as file:
                yield json.dumps(shortened(json.load(file)), ensure_ascii=False).encode()


def changes():
    """Bytes that choose a chain and what is changed of its readings: each chain as it is, then changed at random."""
    rng = random.Random(20261128)
    for chain in range(7):
        yield bytes([chain])
    for length in list(range(4, 24)) * 6 + [40, 80, 120] * 10:
        yield rng.randbytes(length)


SOURCES = {"csv": texts, "wav": sounds, "chain": chains, "record": records, "quantity": quantities,
           "command": commands, "measure": captures, "walk": changes}


def seeds(target, folder):
    """Writes the seeds of a target; how many."""
    os.makedirs(folder, exist_ok=True)
    count = 0
    for count, seed in enumerate(SOURCES[target](), 1):
        with open(os.path.join(folder, f"seed-{count:04}"), "wb") as file:
            file.write(seed)
    return count


ROOMS = {"csv": ["capture"], "wav": [], "measure": ["capture"], "chain": ["chain", "base"], "record": ["record", "walk"],
         "quantity": ["base", "chain"], "command": ["cli", "base", "chain"], "walk": ["walk"]}
CHUNKS = ["RIFF", "RIFX", "RF64", "BW64", "WAVE", "fmt ", "data", "fact", "ds64", "LIST", "PEAK", "\\x00\\x00\\x00\\x00",
          "\\xff\\xff\\xff\\xff", "\\x03\\x00", "\\xfe\\xff"]


def dictionary(target, path):
    """Words that the readers know: the short strings of their own tables. libFuzzer's format."""
    words = set(CHUNKS if target in ("wav", "measure") else [])
    for room in ROOMS[target]:
        for text in files(f"src/{room}/*.c"):
            words.update(word.decode() for word in re.findall(rb'"([A-Za-z0-9 _:;.,/#+-]{1,24})"', text))
    with open(path, "w", encoding="ascii") as file:
        file.writelines(f'"{word}"\n' for word in sorted(words))
    return len(words)
