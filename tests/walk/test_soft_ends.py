"""A healthy chain whose captures begin before the test tone does and end after it: in order, with the gains that it has.

The tone swells and dies down softly, as those of `gainwalk tone` do; how much silence there is differs from capture to
capture. A tone that begins at once, after the record, may be a contact's doing or the hand's at the generator: that is
asked, not told for certain. A gap within the record is a fault."""

import json
import math
import os
import random
import struct
import subprocess
import sys
import tempfile

PROGRAM = os.environ["GAINWALK"]
RATE, TONE_S, FADE_S, HZ = 48000, 2.0, 0.01, 997.0
CHAIN = """[chain]
title = soft ends
stimulus = sine 997 Hz
captures = .
[instrument]
full_scale = 2 V
[point J1]
capture = J1.wav
[point U1]
capture = U1.wav
stage = noninverting rf=9k rg=1k
[point J2]
capture = J2.wav
stage = wire
"""


def write(path, rms_v, ahead_s, behind_s, fade_s, gap_s=0.0):
    """A 16-bit WAV of 2 V full scale: silence with a little noise, the tone, with a gap after a second, silence."""
    noise = random.Random(path)
    samples = []
    for i in range(int((ahead_s + TONE_S + behind_s) * RATE)):
        time = i / RATE - ahead_s
        inside = min(time, TONE_S - time)
        gain = 0.0 if inside < 0 else 1.0 if inside >= fade_s else 0.5 - 0.5 * math.cos(math.pi * inside / fade_s)
        gain = 0.0 if 1.0 <= time < 1.0 + gap_s else gain
        volts = gain * rms_v * math.sqrt(2) * math.sin(2 * math.pi * HZ * time) + noise.gauss(0, 3e-5)
        samples.append(round(volts / 2 * 32768))
    data = struct.pack("<%dh" % len(samples), *samples)
    with open(path, "wb") as file:
        file.write(b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " +
                   struct.pack("<IHHIIHH", 16, 1, 1, RATE, 2 * RATE, 2, 16) + b"data" + struct.pack("<I", len(data)) + data)


def walked(folder, captures):
    for name, *rest in captures:
        write(os.path.join(folder, name + ".wav"), *rest)
    with open(os.path.join(folder, "a.ini"), "w", encoding="ascii") as file:
        file.write(CHAIN)
    done = subprocess.run([PROGRAM, "walk", "--json", os.path.join(folder, "a.ini")], capture_output=True, check=False)
    return json.loads(done.stdout)["chains"][0]


def main():
    with tempfile.TemporaryDirectory() as folder:
        soft = walked(folder, [("J1", 0.05, 0.4, 0.2, FADE_S), ("U1", 0.5, 0.1, 0.9, FADE_S), ("J2", 0.495, 1.1, 0.0, FADE_S)])
        assert soft["verdict"]["status"] == "clear", soft["verdict"]
        gains = [stage["gain"]["value"] for stage in soft["stages"]]
        for gain, expected in zip(gains, (20.0, 20 * math.log10(0.99))):  # of what was made
            assert abs(gain - expected) < 0.01, gains
        late = walked(folder, [("J1", 0.05, 0.0, 0.0, 0.0), ("U1", 0.5, 0.5, 0.0, 0.0), ("J2", 0.495, 0.5, 0.0, 0.0)])
        events = [event["kind"] for event in late["points"][1]["capture"]["events"]]
        assert events == ["dropout"], events
        verdict = late["verdict"]
        assert (verdict["status"], verdict["code"], verdict["to"]) == ("unsure", "cuts-out", "U1"), verdict
        gap = walked(folder, [("J1", 0.05, 0.0, 0.0, 0.0), ("U1", 0.5, 0.0, 0.0, 0.0, 0.1), ("J2", 0.495, 0.0, 0.0, 0.0, 0.1)])
        verdict = gap["verdict"]
        assert (verdict["status"], verdict["code"], verdict["to"]) == ("fault", "cuts-out", "U1"), verdict
    print("soft ends: in order; a late begin: asked for; a gap: a fault")
    return 0


if __name__ == "__main__":
    sys.exit(main())
