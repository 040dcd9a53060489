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


def broad(rng):
    return str(rng.choice(["two-tone", "noise"]))


def flipped_broad(rng):
    """The wrong way round, with noise or two tones fed in: told against the reference channel alone."""
    kinds = ["wire", "divider", "pot"]
    chain, i = build(rng, [str(rng.choice(kinds))], lambda c: pick(rng, c, lambda k, s: s.kind in kinds
                                                                            and s.text[0].startswith("stage")),
                     stimulus=broad(rng), rails=False)
    stage = chain.stages[i]
    stage.dc_gain, stage.gain = stage.gain, -stage.gain
    return at(chain, i, ("polarity-flipped",), reference=True)


def motor_boating(rng):
    """Decoupling that has dried out: the level swings a few times a second, and a rail moves in step."""
    chain, i = build(rng, ["noninverting"], lambda c: pick(rng, c, lambda k, s: s.active and c.frequency_hz <= 1000),
                     stimulus="sine", rails=False)
    swing = 1 + rng.uniform(0.25, 0.7) * np.sin(2 * np.pi * float(rng.choice([5, 10, 15])) * bench.TIME_S + 1)

    def shape(out):
        dc = np.mean(out)
        return dc + (out - dc) * swing

    stage = chain.stages[i]
    stage.shape = shape
    cycles = chain.frequency_hz * rng.uniform(0.3, 0.6)
    return at(chain, i, ("tone-added", "cuts-out", "level-low"), cycles=(cycles, cycles), points=(2400, 2500))


def droop(rng):
    """A hold capacitor or its switch leaks: with nothing fed in the output slides away and is fetched back."""
    chain, i = build(rng, ["follower"], lambda c: pick_any(rng, c, lambda k, s: s.kind == "follower" and abs(c.dc_at(k)) < 0.05),
                     style="dual", rails=False)
    chain.level_v = 1e-6
    chain.stimulus_text = lambda: "none"
    slide = bench.TIME_S / bench.PERIOD_S * rng.choice([-1, 1]) * rng.uniform(0.4, 1.5)
    add(chain.stages[i], slide)
    chain.stages[i].text.append("dc = 0 V ± 50 mV")
    return at(chain, i, ("dc-shift",), long=True)


def pick_any(rng, chain, test):
    fits = [i for i, stage in enumerate(chain.stages) if test(i, stage)]
    return int(rng.choice(fits)) if fits else None


def contact_under_dc(rng):
    """A contact that carries DC as well: where it opens, the DC steps along."""
    chain, i = build(rng, ["wire"], lambda c: pick(rng, c, lambda k, s: s.kind == "wire" and abs(c.dc_at(k)) > 2),
                     stimulus="sine", style="single", rails=False)
    cycles = rng.uniform(14, 20)
    spacing = cycles / chain.frequency_hz / 2
    gate = np.ones(bench.DENSE)
    for begin in np.arange(0, bench.PERIOD_S, spacing):
        share = rng.uniform(0.2, 0.35)
        start = begin + rng.uniform(0, 1 - share) * spacing
        gate[(bench.TIME_S >= start) & (bench.TIME_S < start + share * spacing)] = rng.uniform(0, 0.1)
    chain.stages[i].shape = lambda out: out * gate
    return at(chain, i, ("cuts-out", "crackle", "dc-shift"), cycles=(cycles, cycles))


def tape_bias(rng):
    """Residue of a tape's bias by design: much of it in what is fed in, or a little that a stage adds."""
    chain, i = build(rng, good=lambda c: pick(rng, c, lambda k, s: s.active), stimulus="sine", rails=False)
    residue = np.sin(2 * np.pi * 5 * round(rng.uniform(40e3, 130e3) / 5) * bench.TIME_S)
    if rng.random() < 0.5:
        chain.source_extra = residue * chain.level_v * rng.uniform(0.02, 0.1)
    else:
        add(chain.stages[i], residue * chain.level_at(i) * rng.uniform(0.005, 0.02))
    return Case(chain, "healthy")


def reference_broad(rng):
    chain, _ = build(rng, stimulus=broad(rng), rails=False)
    return Case(chain, "healthy", reference=True)


HEALTHY = {
    "unstated-supply": (unstated_supply, 1),
    "declared-pad": (declared_pad, 1),
    "tape-bias": (tape_bias, 1),
    "reference-broad": (reference_broad, 1),
}
FAULTS = {
    "shorted-input": shorted_input,
    "slewing": slewing,
    "popcorn": popcorn,
    "unlike-valves": unlike_valves,
    "flipped-broad": flipped_broad,
    "motor-boating": motor_boating,
    "droop": droop,
    "contact-under-dc": contact_under_dc,
}
DOUBTS = {"loading": loading}
