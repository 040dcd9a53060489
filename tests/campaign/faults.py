"""What goes wrong, and what only looks so: each a circuit that is truly so, with the answers a technician would accept.

Signatures follow from what the fault does to the circuit. `Case.spans` are the pairs of points between which it may be
said to lie, `codes` the acceptable names. `expect` is "fault", "doubt" (the capture is to be doubted: unsure) or
"healthy" (anything but a fault).
"""

from dataclasses import dataclass, field

import numpy as np

import bench
from circuit import GAIN_KINDS, Chain, Rail, decibels

MAINS = 2 * np.pi * bench.MAINS_HZ * bench.TIME_S


@dataclass
class Case:
    chain: Chain
    expect: str
    spans: list = field(default_factory=list)
    codes: tuple = ()
    point: str = None  # of a rail, or of a doubted capture
    long: bool = False  # captures of 45 ms or more, as for hum
    cycles: tuple = None  # cycles of each capture, where the fault asks for it
    points: tuple = None
    tamper: dict = field(default_factory=dict)  # point name: what its capture shows instead
    reference: bool = False
    recorder: str = None  # "wav", "ac" (undeclared AC coupling), None
    coarse: dict = field(default_factory=dict)  # point name: factor of a range too coarse (or too small)
    fault_stage: int = None
    second: tuple = None  # (span, codes) of another fault behind the first
    visible: bool = False  # at every later point, in level: so the search for it is a search by halves


def build(rng, wants=(), good=None, **how):
    """A chain that suits; None after too many that don't."""
    for _ in range(60):
        chain = Chain(rng, wants=wants, **how)
        index = good(chain) if good else -1
        if index is not None:
            return chain, index
    raise RuntimeError("no chain suits")


def pick(rng, chain, test):
    """One of the stages that pass; None if there is none."""
    fits = [i for i, stage in enumerate(chain.stages) if test(i, stage) and chain.level_at(i) > 0.02]
    return int(rng.choice(fits)) if fits else None


def at(chain, index, codes, **more):
    return Case(chain, "fault", [(chain.parent(index), chain.stages[index].name)], codes, fault_stage=index, **more)


def add(stage, extra):
    """Something that the stage adds to its output."""
    before = stage.shape
    stage.shape = lambda out: (before(out) if before else out) + extra


LOST = ("signal-lost", "level-low")

def way(chain, index):
    """The stages from the source to one."""
    out = []
    while index >= 0:
        out.append(index)
        index = chain.stages[index].after
    return out


# ---- level ----------------------------------------------------------------------------------------------


def dead_stage(rng):
    chain, i = build(rng, good=lambda c: pick(rng, c, lambda k, s: True))
    stage = chain.stages[i]
    stage.gain *= 10 ** (-rng.uniform(36, 60) / 20)
    if stage.dc == "pass":
        stage.dc_gain = 0.0 if rng.random() < 0.5 else None
    add(stage, 5e-4 * np.sin(MAINS + 1) + bench.noise(rng, 1e-4))
    # where its DC goes with it, that may be what is seen first
    return at(chain, i, LOST + (("dc-shift",) if stage.dc_gain == 0.0 else ()), visible=True)


def open_feedback_leg(rng):
    chain, i = build(rng, ["noninverting"], lambda c: pick(rng, c, lambda k, s: s.kind == "noninverting" and s.nominal > 3.5))
    chain.stages[i].gain = chain.stages[i].noise_gain = 1.0
    return at(chain, i, LOST, visible=True)


def open_bypass(rng):
    chain, i = build(rng, [str(rng.choice(["emitter", "amp"]))],
                     lambda c: pick(rng, c, lambda k, s: s.kind in ("emitter", "amp") and s.nominal > 2))
    chain.stages[i].gain /= rng.uniform(2, 6)
    return at(chain, i, ("level-low",), visible=True)


def open_coupling(rng):
    chain, i = build(rng, ["coupling"], lambda c: pick(rng, c, lambda k, s: s.kind == "coupling"),
                     stimulus=str(rng.choice(["sine", "sine", "square", "saw"])))
    chain.stages[i].high_pass_hz = chain.frequency_hz * rng.uniform(30, 300)
    return at(chain, i, LOST + ("lows-lost",), visible=True)


def dry_coupling(rng):
    chain, i = build(rng, ["coupling"], lambda c: pick(rng, c, lambda k, s: s.kind == "coupling"), stimulus="sine")
    chain.stages[i].high_pass_hz = chain.frequency_hz * rng.uniform(1.6, 8)
    return at(chain, i, ("level-low", "lows-lost", "signal-lost"), visible=True)


def oxidised_contact(rng):
    chain, i = build(rng, [str(rng.choice(["wire", "pot"]))],
                     lambda c: pick(rng, c, lambda k, s: s.kind in ("wire", "pot")), stimulus="sine")
    peak = 1.5 * chain.level_at(i)
    loss, bend = 10 ** (-rng.uniform(5, 14) / 20), rng.uniform(1.0, 1.5)

    def shape(out):
        dc = np.mean(out)
        moving = out - dc
        return dc + peak * loss * np.sign(moving) * np.abs(moving / peak) ** bend

    chain.stages[i].shape = shape
    return at(chain, i, ("level-low", "distortion-added", "signal-lost"), visible=True)


def stands_out(chain, by_db):
    """From the far end an error shows only where it stands out of the spread of all the stages on the way."""
    return bool(by_db > np.sqrt(sum(s.tolerance_db**2 for s in chain.stages)) + 1)


def half_a_balanced_line(rng):
    chain, i = build(rng, ["wire"], lambda c: pick(rng, c, lambda k, s: s.kind == "wire"), stimulus="sine")
    chain.stages[i].gain *= 0.5
    add(chain.stages[i], chain.level_at(i) * rng.uniform(0.03, 0.15) * np.sin(MAINS))
    return at(chain, i, ("level-low", "hum-added"), long=True, visible=stands_out(chain, 6.02))


def wrong_value(rng):
    kinds = ("noninverting", "inverting", "amp", "emitter", "divider", "mix")
    chain, i = build(rng, [str(rng.choice(kinds))], lambda c: pick(rng, c, lambda k, s: s.kind in kinds))
    stage = chain.stages[i]
    up = rng.random() < 0.5 and chain.level_at(i) * 10 ** ((stage.tolerance_db + 5) / 20) < 1.5 * chain.room()
    by = stage.tolerance_db + rng.uniform(2.5, 5)
    stage.gain = np.sign(stage.gain) * stage.nominal * 10 ** ((by if up else -by) / 20)
    # a divider with DC across it shows the same error twice
    both = ("dc-shift",) if stage.dc == "pass" and abs(chain.dc_at(stage.after)) > 0.3 else ()
    return at(chain, i, (("level-high",) if up else ("level-low",)) + both, visible=stands_out(chain, by))


def two_faults(rng):
    """A loss, and behind it on the same way a stage that hums or one that has lost its gain: both are to be found."""

    def pair(chain):
        if not odd_to_mains(chain):
            return None
        pairs = [(i, k) for k in range(len(chain.stages)) for i in range(len(chain.stages))
                 if chain.stages[k].kind == "noninverting" and chain.stages[k].nominal > 3.5 and i != k
                 and chain.level_at(i) > 0.1 and i in way(chain, k)]
        return pairs[int(rng.integers(len(pairs)))] if pairs else None

    chain, (i, k) = build(rng, ["wire", "noninverting"], pair, stimulus="sine", rails=False)
    chain.stages[i].gain *= 10 ** (-rng.uniform(7, 12) / 20)
    span = (chain.parent(k), chain.stages[k].name)
    case = at(chain, i, ("level-low",), long=True)
    if rng.random() < 0.5:
        chain.stages[k].gain = chain.stages[k].noise_gain = 1.0
        case.second = (span, LOST)
    else:
        add(chain.stages[k], mains_comb(rng, chain.level_at(k) * rng.uniform(0.12, 0.4), True))
        case.second = (span, ("hum-added",))
    return case


def highs_lost(rng):
    chain, i = build(rng, ["wire"], lambda c: pick(rng, c, lambda k, s: s.low_pass_hz == 0),
                     stimulus=str(rng.choice(["saw", "square", "sine"])))
    if chain.shape == "sine":
        chain.stages[i].low_pass_hz = chain.frequency_hz / rng.uniform(2, 6)
    else:
        chain.stages[i].low_pass_hz = chain.frequency_hz * rng.uniform(0.7, 2.5)
    return at(chain, i, ("highs-lost", "level-low"))


# ---- DC --------------------------------------------------------------------------------------------------


def leaky_coupling(rng):
    chain, i = build(rng, ["coupling"], style="single",
                     good=lambda c: pick(rng, c, lambda k, s: s.kind == "coupling" and abs(c.dc_at(s.after)) > 1))
    stage = chain.stages[i]
    stage.dc, stage.dc_gain = "pass", rng.uniform(0.1, 0.95)
    return at(chain, i, ("dc-passed", "dc-shift"))


def stuck_output(rng):
    chain, i = build(rng, ["noninverting"], lambda c: pick(rng, c, lambda k, s: s.active))
    stage = chain.stages[i]
    level = chain.high_v if rng.random() < 0.5 else chain.low_v
    if chain.single and level < 2:
        level = 0.1
    residue = bench.noise(rng, 1e-4)
    stage.shape = lambda out: np.full_like(out, level) + residue
    return at(chain, i, ("dc-shift", "signal-lost"))


def offset_gone(rng):
    """A leaking input, a bias that drifted: DC off, signal still there."""
    chain, i = build(rng, ["noninverting"], lambda c: pick(rng, c, lambda k, s: s.active and s.kind in GAIN_KINDS + ("follower",)),
                     rails=True)  # without them, volts before a coupling capacitor may be half of a supply
    stage = chain.stages[i]
    peak = chain.level_at(i) * chain.crest
    middle = chain.dc_at(i)
    up, down = chain.high_v - peak - middle, middle - peak - chain.low_v
    size = max(0.35, 0.3 * abs(middle), 0.04 * abs(stage.noise_gain))  # far beyond any offset times the gain
    by = size if up >= down else -size
    by *= rng.uniform(1, max(1.0, 0.9 * max(up, down) / size))
    if stage.dc == "block":
        stage.dc = "bias"
    add(stage, by)
    return at(chain, i, ("dc-shift",))


# ---- shape -----------------------------------------------------------------------------------------------


def sine_stage(rng, test, wants=("noninverting",)):
    return build(rng, list(wants), lambda c: pick(rng, c, test), stimulus="sine")


def clipping(rng):
    chain, i = sine_stage(rng, lambda k, s: s.active)
    stage, peak = chain.stages[i], 1.4142 * chain.level_at(i)
    ceiling = peak * rng.uniform(0.5, 0.8)
    sides = str(rng.choice(["both", "top", "bottom"]))

    def shape(out):
        dc = np.mean(out)
        low = -ceiling if sides != "top" else -np.inf
        high = ceiling if sides != "bottom" else np.inf
        return np.clip(out - dc, low, high) + dc

    stage.shape = shape
    return at(chain, i, ("clipped", "distortion-added"))


def crossover(rng):
    chain, i = sine_stage(rng, lambda k, s: s.active)
    zone = 1.4142 * chain.level_at(i) * rng.uniform(0.12, 0.3)

    def shape(out):
        dc = np.mean(out)
        return np.sign(out - dc) * np.maximum(np.abs(out - dc) - zone, 0) + dc

    chain.stages[i].shape = shape
    return at(chain, i, ("distortion-added", "level-low"))


def oscillation(rng):
    chain, i = build(rng, ["noninverting"], lambda c: pick(rng, c, lambda k, s: s.active) if c.frequency_hz >= 1000 else None,
                     stimulus="sine")
    tone_hz = 5 * round(rng.uniform(25e3, 80e3) / 5)
    add(chain.stages[i], chain.level_at(i) * rng.uniform(0.15, 0.6) * np.sqrt(2) * np.sin(2 * np.pi * tone_hz * bench.TIME_S))
    return at(chain, i, ("tone-added", "noise-added"), cycles=(2, 6), points=(2000, 2500))


# ---- hum -------------------------------------------------------------------------------------------------


def mains_comb(rng, rms, loop):
    """A ground loop's comb with strong triples, or induction: nearly pure."""
    sizes = {1: 1.0, 2: 0.1, 3: 0.5, 5: 0.25, 9: 0.12} if loop else {1: 1.0, 3: 0.05}
    wave = sum(size * np.sin(order * MAINS + rng.uniform(0, 6.28)) for order, size in sizes.items())
    return wave * rms / np.sqrt(np.mean(wave**2))


def odd_to_mains(chain):
    """Stimulus lines and mains lines that don't coincide: a technician would choose so, too."""
    return chain.frequency_hz not in (100, 200, 400)


def ground_loop(rng):
    chain, i = build(rng, [], lambda c: pick(rng, c, lambda k, s: True) if odd_to_mains(c) else None,
                     stimulus="sine")
    add(chain.stages[i], mains_comb(rng, chain.level_at(i) * rng.uniform(0.12, 0.5), True))
    return at(chain, i, ("hum-added",), long=True)


def induction(rng):
    chain, i = build(rng, [], lambda c: pick(rng, c, lambda k, s: True) if odd_to_mains(c) else None,
                     stimulus="sine")
    add(chain.stages[i], mains_comb(rng, chain.level_at(i) * rng.uniform(0.12, 0.5), False))
    return at(chain, i, ("hum-added",), long=True)


def smoothing_capacitor(rng, order=2):
    """Twice the mains on the rail, some of it in each stage behind."""
    chain, _ = build(rng, ["noninverting"], lambda c: 0 if not any(r.metered for r in c.rails) else None, rails=True)
    rail = chain.rails[int(rng.integers(len(chain.rails)))]
    saw = ((bench.TIME_S * bench.MAINS_HZ * order) % 1) - 0.5
    rail.voltage = rail.voltage + rng.uniform(0.8, 2.5) * saw
    for k, stage in enumerate(chain.stages):
        if stage.active:
            add(stage, chain.level_at(k) * rng.uniform(0.01, 0.08) * saw)
    return Case(chain, "fault", [], ("ripple-high",), point=rail.name, long=True)


def open_rectifier(rng):
    return smoothing_capacitor(rng, 1)


# ---- rails -----------------------------------------------------------------------------------------------


def missing_rail(rng):
    chain, _ = build(rng, ["noninverting"], lambda c: 0 if len(c.rails) == 2 else None, style="dual", rails=True)
    negative = rng.random() < 0.5
    rail = chain.rails[1 if negative else 0]
    rail.voltage = rng.uniform(0.05, 0.4) * (1 if negative else -1) + bench.noise(rng, 1e-3)
    if negative:
        chain.low_v = 0.3
    else:
        chain.high_v = -0.3
    return Case(chain, "fault", [], ("rail-off",), point=rail.name)


def low_rail(rng):
    chain, _ = build(rng, ["noninverting"], lambda c: 0 if c.rails else None, rails=True)
    factor = rng.uniform(0.45, 0.75)
    for rail in chain.rails:
        rail.voltage = rail.voltage * factor
    chain.high_v = max(chain.supply_v * factor - 1.2, 0.5)
    if not chain.single:
        chain.low_v = -chain.high_v
    else:
        for stage in chain.stages:
            if stage.dc == "bias":
                stage.bias_v *= factor
    return Case(chain, "fault", [], ("rail-off",), point=tuple(r.name for r in chain.rails))


# ---- noise, contacts -------------------------------------------------------------------------------------


def noisy_device(rng):
    chain, i = sine_stage(rng, lambda k, s: s.active)
    hiss = bench.filtered(rng.standard_normal(bench.DENSE), lambda f: (f > 20) & (f < 20e3))
    hiss *= chain.level_at(i) * rng.uniform(0.08, 0.25) / np.sqrt(np.mean(hiss**2))
    add(chain.stages[i], hiss)
    return at(chain, i, ("noise-added",), cycles=(6, 20))


def intermittent(rng):
    chain, i = sine_stage(rng, lambda k, s: s.kind in ("wire", "pot"), [str(rng.choice(["wire", "pot"]))])
    cycles = rng.uniform(14, 20)
    count = max(1, int(np.ceil(2 * bench.PERIOD_S / (cycles / chain.frequency_hz))))
    spacing = bench.PERIOD_S / count
    depth = rng.uniform(0, 0.15)
    gate = np.ones(bench.DENSE)
    for k in range(count):  # a gap in each stretch, nowhere in particular
        share = rng.uniform(0.2, 0.35)
        begin = (k + rng.uniform(0, 1 - share)) * spacing
        gate[(bench.TIME_S >= begin) & (bench.TIME_S < begin + share * spacing)] = depth

    def shape(out):
        dc = np.mean(out)
        return dc + (out - dc) * gate

    chain.stages[i].shape = shape
    return at(chain, i, ("cuts-out", "crackle"), cycles=(cycles, cycles))


def crackling(rng):
    chain, i = sine_stage(rng, lambda k, s: s.kind in ("wire", "pot") or s.active)
    cycles = rng.uniform(8, 20)
    rate = rng.uniform(6, 15) / (cycles / chain.frequency_hz)
    hits = np.zeros(bench.DENSE)
    places = rng.integers(0, bench.DENSE, max(1, int(rate * bench.PERIOD_S)))
    hits[places] = rng.choice([-1, 1], len(places)) * rng.uniform(0.5, 2, len(places))
    tau = 0.02 / chain.frequency_hz
    length = int(8 * tau * bench.RATE_HZ) + 2
    decay = np.zeros(bench.DENSE)
    decay[:length] = np.exp(-np.arange(length) / bench.RATE_HZ / tau)
    bursts = np.fft.irfft(np.fft.rfft(hits) * np.fft.rfft(decay), bench.DENSE)
    add(chain.stages[i], bursts * 1.4 * chain.level_at(i))
    return at(chain, i, ("crackle", "noise-added", "cuts-out"), cycles=(cycles, cycles), points=(2000, 2500))


# ---- source, polarity, siblings --------------------------------------------------------------------------


def wrong_pitch(rng):
    chain, _ = build(rng, stimulus="sine")
    stated = chain.stimulus_text()
    chain.frequency_hz = 5.0 * round(chain.frequency_hz * (1 + rng.choice([-1, 1]) * rng.uniform(0.05, 0.12)) / 5)
    chain.stimulus_text = lambda: stated
    return Case(chain, "fault", [(None, "J1")], ("pitch-off",))


def no_stimulus(rng):
    chain, _ = build(rng, stimulus="sine")
    stated = chain.stimulus_text()
    chain.level_v *= 1e-3
    chain.stimulus_text = lambda: stated
    return Case(chain, "fault", [(None, "J1")], ("signal-lost", "level-low"))


def flipped(rng):
    chain, i = build(rng, ["wire"], lambda c: pick(rng, c, lambda k, s: s.kind in ("wire", "divider", "pot", "coupling")
                                                   and s.text[0].startswith("stage")), stimulus="sine")
    chain.stages[i].gain *= -1
    return at(chain, i, ("polarity-flipped",), reference=True)


def odd_voice(rng):
    """Like voices from one source, no schematic: one is unlike its siblings."""
    chain = Chain(rng, points=2, wants=["wire"], stimulus=str(rng.choice(["sine", "saw"])), rails=False)
    chain.stages = []
    count = int(rng.integers(4, 9))
    gain = rng.uniform(0.4, 2.5)
    odd = int(rng.integers(count))
    for k in range(count):
        true = gain * 10 ** (rng.uniform(-0.3, 0.3) / 20)
        if k == odd:
            true = gain * 10 ** (rng.choice([-1, 1]) * rng.uniform(4, 12) / 20) if rng.random() < 0.7 else 1e-3
        stage = chain._new("amp", None, true, gain)
        stage.name, stage.after = f"V{k + 1}", -1
        stage.text = ["group = voices"] + (["after = J1"] if k > 0 else [])
        chain.stages.append(stage)
    chain.points = count + 1
    case = at(chain, odd, ("odd-one-out", "level-low", "level-high", "signal-lost"))
    return case


# ---- captures to be doubted ------------------------------------------------------------------------------


def inner(rng, chain):
    """A point with one before it and one behind it."""
    inner_points = [k for k, s in enumerate(chain.stages) if any(o.after == k for o in chain.stages)]
    return int(rng.choice(inner_points)) if inner_points else None


def probe_switch(rng):
    chain, i = build(rng, good=lambda c: inner(rng, c), rails=False)
    name, factor = chain.stages[i].name, float(rng.choice([10, 0.1]))
    return Case(chain, "doubt", codes=("probe-suspect",), point=name, tamper={name: lambda v: v * factor})


def floating_probe(rng):
    chain, i = build(rng, good=lambda c: inner(rng, c) if odd_to_mains(c) else None, stimulus="sine", rails=False)
    hum = mains_comb(rng, rng.uniform(0.02, 0.3), False)
    return Case(chain, "doubt", codes=("probe-suspect",), point=chain.stages[i].name, long=True,
                tamper={chain.stages[i].name: lambda v: hum})


# ---- healthy ---------------------------------------------------------------------------------------------


def healthy(rng, **how):
    chain, _ = build(rng, **how)
    return Case(chain, "healthy")


def healthy_half_supply(rng):
    return healthy(rng, style="single", wants=["noninverting", "coupling"])


def healthy_shapes(rng):
    return healthy(rng, stimulus=str(rng.choice(["saw", "square", "triangle"])))


def healthy_noisy_source(rng):
    case = healthy(rng)
    case.chain.source_extra = bench.noise(rng, case.chain.level_v * rng.uniform(0.003, 0.02))
    return case


def healthy_humming_source(rng):
    case = healthy(rng, stimulus="sine")
    case.chain.source_extra = mains_comb(rng, case.chain.level_v * rng.uniform(0.003, 0.025), rng.random() < 0.5)
    case.long = bool(rng.random() < 0.7)
    return case


def healthy_bent_source(rng):
    case = healthy(rng, stimulus="sine")
    chain = case.chain
    phase = 2 * np.pi * chain.frequency_hz * bench.TIME_S
    share = rng.uniform(0.003, 0.02)
    chain.source_extra = chain.level_v * 1.4142 * share * (np.sin(2 * phase + 1) + 0.5 * np.sin(3 * phase))
    return case


def healthy_single_ended(rng):
    """Even harmonics of a single-ended stage, within its stated limit."""
    chain, i = sine_stage(rng, lambda k, s: s.kind in ("amp", "emitter"), [str(rng.choice(["amp", "emitter"]))])
    stage, peak, bend = chain.stages[i], 1.4142 * chain.level_at(i), rng.uniform(0.01, 0.03)

    def shape(out):
        dc = np.mean(out)
        u = (out - dc) / peak
        return dc + peak * (u + bend * 2 * (u**2 - np.mean(u**2)))

    stage.shape = shape
    stage.text.append("thd = < 6 %")
    return Case(chain, "healthy")


def healthy_reference(rng):
    """The source moves between captures; each holds the stimulus beside the point."""
    case = healthy(rng, stimulus="sine", rails=False)
    case.reference = True
    return case


def healthy_sound_card(rng):
    case = healthy(rng, rails=False, stimulus="sine")
    case.recorder = "wav"
    return case


def healthy_undeclared_ac(rng):
    case = healthy(rng, rails=False)
    case.recorder = "ac"
    return case


def healthy_coarse(rng):
    case = healthy(rng)
    names = case.chain.names()[1:]
    case.coarse = {str(rng.choice(names)): float(rng.choice([5, 10, 20]))}
    return case


def healthy_off_screen(rng):
    """One capture runs off the screen at its top or both ends: the recorder's clipping."""
    case = healthy(rng, stimulus="sine")
    case.coarse = {str(rng.choice(case.chain.names()[1:])): float(rng.uniform(0.5, 0.8))}
    return case


def healthy_pot_low(rng):
    case = healthy(rng, wants=["pot"])
    for k, stage in enumerate(case.chain.stages):
        if stage.kind == "pot" and stage.text and stage.text[0].startswith("stage"):
            stage.text = [f"gain = {decibels(stage.nominal):.1f} dB ± 3 dB"] + stage.text[1:]
            stage.gain = stage.nominal * 10 ** (rng.uniform(-2, 2) / 20)
    return case


def healthy_unknown_stimulus(rng):
    case = healthy(rng, stimulus="sine")
    case.chain.stimulus_text = lambda: "unknown"
    return case


def healthy_short(rng):
    case = healthy(rng, stimulus="sine")
    case.cycles = (1.5, 2.5)
    return case


HEALTHY = {
    "plain": (healthy, 8),
    "half-supply": (healthy_half_supply, 2),
    "shapes": (healthy_shapes, 2),
    "noisy-source": (healthy_noisy_source, 1),
    "humming-source": (healthy_humming_source, 1),
    "bent-source": (healthy_bent_source, 1),
    "single-ended": (healthy_single_ended, 1),
    "reference": (healthy_reference, 1),
    "sound-card": (healthy_sound_card, 1),
    "undeclared-ac": (healthy_undeclared_ac, 1),
    "coarse-range": (healthy_coarse, 1),
    "off-screen": (healthy_off_screen, 1),
    "pot-low": (healthy_pot_low, 1),
    "unknown-stimulus": (healthy_unknown_stimulus, 1),
    "short": (healthy_short, 1),
}

FAULTS = {
    "dead-stage": dead_stage,
    "open-feedback-leg": open_feedback_leg,
    "open-bypass": open_bypass,
    "open-coupling": open_coupling,
    "dry-coupling": dry_coupling,
    "leaky-coupling": leaky_coupling,
    "oxidised-contact": oxidised_contact,
    "half-a-line": half_a_balanced_line,
    "wrong-value": wrong_value,
    "highs-lost": highs_lost,
    "stuck-output": stuck_output,
    "offset-gone": offset_gone,
    "clipping": clipping,
    "crossover": crossover,
    "oscillation": oscillation,
    "ground-loop": ground_loop,
    "induction": induction,
    "smoothing-cap": smoothing_capacitor,
    "open-rectifier": open_rectifier,
    "missing-rail": missing_rail,
    "low-rail": low_rail,
    "noisy-device": noisy_device,
    "intermittent": intermittent,
    "crackling": crackling,
    "wrong-pitch": wrong_pitch,
    "no-stimulus": no_stimulus,
    "flipped": flipped,
    "odd-voice": odd_voice,
    "two-faults": two_faults,
}

DOUBTS = {"probe-switch": probe_switch, "floating-probe": floating_probe}
