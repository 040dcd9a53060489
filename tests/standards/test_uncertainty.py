"""A small part of scripts/coverage with a fixed seed: the scenarios that hold the goals go on holding them."""

import os
import sys
import tempfile

try:
    import numpy as np
    import uncertainty
except ImportError as missing:
    print("skipped:", missing)
    sys.exit(77)

SEED, TRIALS = 7, 100
SLOW = "GAINWALK_SANITIZED" in os.environ  # such a build is looked through for faults, with few records, not for shares
HELD = (
    "sine-20dB-1.55cyc", "sine-20dB-31.7cyc", "sine-60dB-2.3cyc", "sine-60dB-100.3cyc", "sine-100dB-1.55cyc",
    "sine-100dB-12.4cyc", "third-50dB-2.3cyc", "third-50dB-12.4cyc", "codes20-2.3cyc", "codes20-31.7cyc",
    "codes200-5.2cyc", "hum1-0.3mains", "drift5-30-2.3cyc", "drift5-30-230Hz", "hum10+5-0.115mains",
    "hum10+5-0.3mains", "hum10+5-0.6mains", "hum10+5-1.5mains", "hum10+5-2.5mains", "hum10+5-5mains",
    "white-20.8333ms",
)
# noise of any colour is noise: no tone, no hum
NOISES = ("pink-2ms", "pink-104.167ms", "pink-64samples", "pink-20codes-500samples", "rising-500samples", "rising-40ms",
          "band-500samples")


def called_otherwise():
    """How many records of noise are called something else, or show hum; in 200 of a kind one may."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for name in NOISES:
            tallies, kinds = uncertainty.run(name, TRIALS, SEED, 1, folder)
            hum = tallies["hum"].values
            if TRIALS - kinds.get("noise", 0) + hum > 2:
                found.append(f"{name}: called {kinds}, {hum} with hum")
    print("\n".join(found))
    return found


def held_in_pink():
    """A sine in pink noise: u95 of DC, frequency and level is that of the noise where each stands; what noise brings to
    orders of few cycles is no distortion."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for name in ("pink-sine-20dB-2.3cyc", "pink-sine-40dB-2.3cyc"):
            tallies, _ = uncertainty.run(name, TRIALS, SEED, 1, folder)
            found += [f"{name}: {key}: held {tallies[key].held} of {tallies[key].values}"
                      for key in (*uncertainty.EFFICIENT, "thd") if tallies[key].faults(False, False)]
        for name in ("pink-sine-20dB-12.4cyc", "pink-sine-40dB-31.7cyc"):
            tallies, _ = uncertainty.run(name, TRIALS, SEED, 1, folder)
            found += [f"{name}: {key}: held {tallies[key].held} of {tallies[key].values}" for key in uncertainty.EFFICIENT
                      if tallies[key].faults(True, False)]
    print("\n".join(found))
    return found


def misread():
    """Of a few records of each scenario: those called something else."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for name in HELD + NOISES:
            scenario, random = uncertainty.scenarios.SCENARIOS[name], np.random.default_rng([SEED, *name.encode()])
            records = [uncertainty.make(scenario["make"](random), random) for _ in range(TRIALS // 20)]
            told = uncertainty.measure(records, folder, name, 1)
            found += [f"{name}: called {one['signal']}" for one in told if one["signal"] != scenario["kind"]]
    print("\n".join(found))
    return found


def main():
    if not os.environ.get("GAINWALK"):
        print("skipped: there is no program to run")
        return 77
    if SLOW:
        return 1 if len(misread()) > 2 else 0
    return 1 if uncertainty.show(HELD, TRIALS, SEED, jobs=1) + called_otherwise() + held_in_pink() else 0


if __name__ == "__main__":
    sys.exit(main())
