"""More of what goes wrong, and of what only looks so: what is fast, slow or two-valued, the bench's own load, designs that
a chain file leaves unsaid."""

import numpy as np

import bench
from circuit import decibels
from faults import MAINS, Case, add, at, build, inner, odd_to_mains, pick, sine_stage


def shorted_input(rng):
    """The input of a stage shorts what feeds it: the signal is gone at the point before the short, not at its output."""
    chain, i = build(rng, ["wire"], lambda c: pick(rng, c, lambda k, s: s.kind in ("wire", "coupling", "divider", "pot")
                                                   and any(o.after == k for o in c.stages)))
    stage = chain.stages[i]
    stage.gain *= 10 ** (-rng.uniform(40, 60) / 20)
    if stage.dc == "pass":
        stage.dc_gain = 0.0
    add(stage, bench.noise(rng, 1e-4))
    return at(chain, i, ("signal-lost", "level-low", "dc-shift"), visible=True)


def slewing(rng):
    """The output follows no faster than its slew rate: a sine becomes nearly a triangle."""
    chain, i = sine_stage(rng, lambda k, s: s.active and s.kind != "follower")
    peak, frequency = 1.4142 * chain.level_at(i), chain.frequency_hz
    limit = 2 * np.pi * frequency * peak * rng.uniform(0.35, 0.55)

    def shape(out):
        dc = np.mean(out)
        moving, step = out - dc, limit / bench.RATE_HZ
        period = int(round(bench.RATE_HZ / frequency))
        state, followed = moving[0], np.empty(4 * period)
        for k in range(4 * period):
            state += np.clip(moving[k % bench.DENSE] - state, -step, step)
            followed[k] = state
        one = followed[3 * period :]
        phase = (bench.TIME_S * frequency) % 1 * period
        return dc + np.interp(phase, np.arange(period + 1), np.append(one, one[0]))

    chain.stages[i].shape = shape
    return at(chain, i, ("distortion-added", "level-low"))


def popcorn(rng):
    """Two-level noise of a device: it jumps now and then."""
    chain, i = sine_stage(rng, lambda k, s: s.active)
    cycles = rng.uniform(8, 20)
    jumps = np.sort(rng.uniform(0, bench.PERIOD_S, int(rng.uniform(6, 12) * bench.PERIOD_S * chain.frequency_hz / cycles) // 2 * 2))
    level = (np.searchsorted(jumps, bench.TIME_S) % 2) - 0.5
    add(chain.stages[i], level * chain.level_at(i) * rng.uniform(0.3, 0.8))
    return at(chain, i, ("crackle", "noise-added", "dc-shift", "hum-added"), cycles=(cycles, cycles), points=(2000, 2500))


def unlike_valves(rng):
    """Twice the mains in the signal, clean rails: output valves that are unlike."""
    chain, i = build(rng, ["noninverting"], lambda c: pick(rng, c, lambda k, s: s.active) if odd_to_mains(c) else None,
                     stimulus="sine", rails=True)
    add(chain.stages[i], chain.level_at(i) * rng.uniform(0.12, 0.5) * (np.sin(2 * MAINS) + 0.2 * np.sin(4 * MAINS + 1)))
    return at(chain, i, ("hum-added",), long=True)


def loading(rng):
    """The instrument loads one point: it reads low there, and is right at the next, for then nothing loads it."""
    chain, i = build(rng, good=lambda c: inner(rng, c), rails=False)
    factor = 10 ** (-float(rng.choice([6.02, 20.8])) / 20)
    name = chain.stages[i].name
    return Case(chain, "doubt", codes=("probe-suspect",), point=name, tamper={name: lambda v: v * factor})


def unstated_supply(rng):
    """Half the supply before a coupling capacitor, and a chain file that says nothing of it."""

    def ends_blocked(chain):
        ends = [k for k in range(len(chain.stages)) if all(s.after != k for s in chain.stages)]
        return 0 if all(abs(chain.dc_at(k)) < 0.1 for k in ends) else None

    chain, _ = build(rng, ["noninverting", "coupling"], ends_blocked, style="single", rails=False)
    for stage in chain.stages:
        stage.text = [line for line in stage.text if not line.startswith("dc =")]
    return Case(chain, "healthy")


def declared_pad(rng):
    """A tone stack or pad that takes 20 dB by design."""
    # where no bias stands: the pad would take 20 dB of that as well, and the stages behind it would clip

    def stands_free(c):
        return pick(rng, c, lambda k, s: s.kind == "divider" and c.level_at(s.after) > 0.3 and abs(c.dc_at(k)) < 0.1)

    chain, i = build(rng, ["divider"], stands_free)
    stage = chain.stages[i]
    stage.nominal = 0.1
    stage.gain = 0.1 * 10 ** (rng.uniform(-0.7, 0.7) / 20)
    stage.text = [f"gain = {decibels(0.1):.0f} dB ± 1 dB"] + [t for t in stage.text if t.startswith("after")]
    return Case(chain, "healthy")


HEALTHY = {"unstated-supply": (unstated_supply, 1), "declared-pad": (declared_pad, 1)}
FAULTS = {"shorted-input": shorted_input, "slewing": slewing, "popcorn": popcorn, "unlike-valves": unlike_valves}
DOUBTS = {"loading": loading}
