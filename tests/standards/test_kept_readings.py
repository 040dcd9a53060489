"""Every kind of capture that the tests know how to draw, once: what is true of it lies within three times u95 of what is said
(six deviations; how often u95 itself holds: test_uncertainty.py), and every figure is what it was when it was kept (kept.py).

Truths: closed forms, with the generators (truths.py, shapes.py)."""

import os
import sys
import tempfile

try:
    import kept
    import numpy as np
    import shapes
    import uncertainty
except ImportError as missing:
    print("skipped:", missing)
    sys.exit(77)

FILE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "kept_readings.txt")
SEED = 11
EVERY = 5 if "GAINWALK_SANITIZED" in os.environ else 1  # such a build is slow, and looked through for faults
BEYOND = 3.0  # times u95
PLAIN = ("dropouts",)  # no volts, whatever the file's scale
FIRST = 0.03419276725318417  # of NumPy's random numbers: others make other captures


def misses(name, told, truth, scale):
    """Readings that lie far from the truth."""
    found = []
    for key, expected in truth.items():
        if key not in told["readings"] or not np.isfinite(expected):
            continue
        value, u95 = uncertainty.plain(key, told["readings"][key], 1 if key in PLAIN else scale)
        if u95 is not None and not abs(value - expected) <= BEYOND * u95:
            found.append(f"{name}: {key}: {value:.7g} ±{u95:.3g}, truth {expected:.7g}")
        elif u95 is None and "below" in told["readings"][key] and not expected <= value * BEYOND:
            found.append(f"{name}: {key}: below {value:.4g}, truth {expected:.4g}")
    return found


def measure(record, name, folder, options=()):
    """All channels of a record as the program reads them."""
    paths, more = uncertainty.write([record], folder, name.replace(" ", "-"))
    return uncertainty.ask([*more, *options, *paths])


def of_scenarios(folder, now):
    found = []
    for name, scenario in list(uncertainty.scenarios.SCENARIOS.items())[::EVERY]:
        random = np.random.default_rng([SEED, *name.encode()])
        record = uncertainty.make(scenario["make"](random), random)
        told = measure(record, name, folder)[0]
        now[name] = kept.lines_of_capture(told)
        if told["signal"] == scenario["kind"]:
            truth = uncertainty.truth_of(record, told["signal"])
            found += misses(name, told, truth, 1 if record.step else 1 / uncertainty.FULL)
    return found


def of_shapes(folder, now):
    found = []
    for name, make in list(shapes.SHAPES.items())[::EVERY]:
        made = make(np.random.default_rng([SEED, *name.encode()]))
        channels = measure(made, name, folder, made.options)
        now[name] = [line for told in channels for line in kept.lines_of_capture(told)]
        found += misses(name, channels[0], made.truth, 1 if made.step else 1 / uncertainty.FULL)
    return found


def main():
    if not os.environ.get("GAINWALK"):
        print("skipped: there is no program to run")
        return 77
    if np.random.default_rng(SEED).standard_normal() != FIRST:
        print("skipped: this NumPy draws other random numbers")
        return 77
    now = {}
    with tempfile.TemporaryDirectory() as folder:
        found = of_scenarios(folder, now) + of_shapes(folder, now)
    found += kept.compare(FILE, now, EVERY == 1)
    print("\n".join(found))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
