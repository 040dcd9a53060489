"""Random chains of the campaign: as a designer would lay them out, with parts as they come out of the drawer.

A chain here knows two things: what its chain file says, and what its circuit truly does. What it does follows from
circuit theory and the trade's practice alone.
"""

from dataclasses import dataclass, field

import numpy as np

import bench

E12 = np.array([10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82])


def code(value, letters):
    """IEC 60062: 4700 is 4k7. `letters` go with 1, 1e3, 1e6 …"""
    scale = min(int(np.floor(np.log10(value) / 3 + 1e-9)), len(letters) - 1)
    digits = f"{value / 1000.0**scale:.3g}"
    return digits.replace(".", letters[scale]) if "." in digits else digits + letters[scale]


def ohms(value):
    return code(value, ["R", "k", "M"])


def farads(value):
    return code(value / 1e-12, ["p", "n", "u", "m"])


def nearest(value):
    """The nearest value of E12 (IEC 60063)."""
    power = 10.0 ** np.floor(np.log10(value) - 1)
    return float(min(E12 * power, key=lambda v: abs(np.log(v / value))))


def decibels(ratio):
    return 20 * np.log10(ratio)


GAIN_KINDS = ("noninverting", "inverting", "amp", "emitter")


@dataclass
class Stage:
    """One stage and the point behind it."""

    kind: str
    name: str
    after: int  # index of the stage before; -1 the source
    text: list  # lines of the chain file
    gain: float  # true, signed, mid-band
    nominal: float  # as designed, at the stimulus frequency: a magnitude
    tolerance_db: float = 1.0  # what the chain file allows
    dc: str = "pass"  # pass, block, bias
    bias_v: float = 0.0
    offset_v: float = 0.0  # at its input
    noise_gain: float = 1.0
    high_pass_hz: float = 0.0
    low_pass_hz: float = 0.0
    active: bool = False
    shape: object = None  # a bend of its own, applied last
    stated_dc: tuple = None  # (value, tolerance) of the chain file
    dc_gain: float = None  # where it differs from `gain`
    parts: dict = field(default_factory=dict)

    def run(self, signal, chain):
        dc = float(np.mean(signal))
        moving = signal - dc
        if self.high_pass_hz > 0:
            moving = bench.filtered(moving, lambda f: 1j * f / (self.high_pass_hz + 1j * f))
        if self.low_pass_hz > 0:
            moving = bench.filtered(moving, lambda f: 1 / (1 + 1j * f / self.low_pass_hz))
        gain = self.gain if self.dc_gain is None else self.dc_gain
        level = {"pass": dc * gain, "block": 0.0, "bias": self.bias_v}[self.dc]
        out = moving * self.gain + level + self.offset_v * (self.noise_gain if self.dc != "block" else 0)
        if self.active:
            out = np.clip(out, chain.low_v, chain.high_v)
        if self.shape is not None:
            out = self.shape(out)
        return out


@dataclass
class Rail:
    name: str
    nominal: float
    voltage: np.ndarray
    text: list
    metered: bool = False


class Chain:
    """A chain file, and the voltages at its points."""

    def __init__(self, rng, points=None, style=None, stimulus=None, wants=(), rails=None):
        self.rng = rng
        self.stages = []
        self.rails = []
        self.single = (rng.random() < 0.4) if style is None else style == "single"
        self.supply_v = float(rng.choice([9, 12, 24] if self.single else [12, 15]))
        self.low_v = 1.2 if self.single else -self.supply_v + 1.2
        self.high_v = self.supply_v - 1.2
        self._stimulus(stimulus)
        self.points = int(rng.integers(3, 15)) if points is None else points
        self.level_v = float(np.exp(rng.uniform(np.log(0.05), np.log(0.5))))
        self.source_extra = None  # hum, noise of the source
        self.mains = True
        self.header = []
        self._lay_out(list(wants))
        if rng.random() < 0.5 if rails is None else rails:
            self._add_rails()

    # ---- stimulus

    def _stimulus(self, wanted):
        rng = self.rng
        self.shape = wanted or rng.choice(["sine", "saw", "square", "triangle", "two-tone", "noise"],
                                          p=[0.72, 0.08, 0.06, 0.06, 0.04, 0.04])
        self.frequency_hz = float(rng.choice([100, 200, 400, 440, 1000, 1000, 1000, 2000, 5000, 10000]))
        if self.shape in ("saw", "square", "triangle"):
            self.frequency_hz = min(self.frequency_hz, 1000.0)
        if self.shape == "two-tone":
            self.frequency_hz = 1000.0
        self.crest = {"sine": 1.4142, "saw": 1.7321, "square": 1.0, "triangle": 1.7321, "two-tone": 2.0, "noise": 4.5}[
            self.shape]

    def source(self):
        """One period of what is fed in, RMS `level_v`."""
        phase = bench.TIME_S * self.frequency_hz
        if self.shape == "sine":
            wave = np.sin(2 * np.pi * phase)
        elif self.shape == "two-tone":
            wave = np.sin(2 * np.pi * phase) + np.sin(2 * np.pi * 1.4 * phase)
        elif self.shape == "noise":
            wave = bench.filtered(self.rng.standard_normal(bench.DENSE), lambda f: (f > 20) & (f < 20e3))
        else:
            wave = np.zeros_like(phase)
            for order in range(1, int(min(60, 60e3 / self.frequency_hz))):
                odd = order % 2 == 1
                size = {"saw": 1 / order, "square": odd / order, "triangle": odd / order**2}[self.shape]
                turn = (-1) ** ((order - 1) // 2) if self.shape == "triangle" else 1
                wave = wave + size * turn * np.sin(2 * np.pi * order * phase)
        wave = wave * self.level_v / np.sqrt(np.mean(wave**2))
        return wave if self.source_extra is None else wave + self.source_extra

    def stimulus_text(self):
        level = f"{self.level_v * 1000:.4g} mV"
        if self.shape == "noise":
            return f"noise {level}"
        if self.shape == "two-tone":
            return f"two-tone {self.frequency_hz:g} Hz {1.4 * self.frequency_hz:g} Hz {level}"
        shape = "sine" if self.shape == "sine" else "periodic"
        return f"{shape} {self.frequency_hz:g} Hz {level}"

    # ---- layout

    def level_at(self, index):
        level = self.level_v
        path = []
        while index >= 0:
            path.append(self.stages[index])
            index = self.stages[index].after
        for stage in path:
            level *= stage.nominal
        return level

    def dc_at(self, index):
        """DC that the circuit truly has there, as its parts make it."""
        path = []
        while index >= 0:
            path.append(self.stages[index])
            index = self.stages[index].after
        dc = 0.0
        for stage in reversed(path):
            dc = {"pass": dc * stage.gain + stage.offset_v * stage.noise_gain, "block": 0.0,
                  "bias": stage.bias_v}[stage.dc]
        return dc

    def has_dc(self, index):
        while index >= 0:
            stage = self.stages[index]
            if stage.dc == "bias":
                return True
            if stage.dc == "block":
                return False
            index = stage.after
        return False

    def _lay_out(self, wants):
        rng = self.rng
        slots = self.points - 1
        places = set(rng.choice(slots, size=min(len(wants), slots), replace=False).tolist()) if wants else set()
        for slot in range(slots):
            after = len(self.stages) - 1
            if slot >= 2 and rng.random() < 0.12:
                after = int(rng.integers(0, len(self.stages) - 1))
            kind = self._choose(after)
            if wants and slot in places:
                # nobody feeds volts of DC into a stage that amplifies them
                if wants[0] in GAIN_KINDS and not self.single and abs(self.dc_at(after)) > 0.02:
                    kind = "coupling"
                    places.add(slot + 1)
                else:
                    kind = wants.pop(0)
            self._add(kind, after)

    def _choose(self, after):
        rng = self.rng
        if (self.has_dc(after) and self.single) or abs(self.dc_at(after)) > 0.1:
            return str(rng.choice(["coupling", "follower", "wire", "lowpass", "highpass", "transformer"],
                                  p=[0.55, 0.12, 0.12, 0.07, 0.07, 0.07]))
        level = self.level_at(after)
        room = self.room() / level
        quiet = level > 0.12
        kinds = ["follower", "wire", "coupling", "lowpass", "highpass", "mix"]
        if room > 1.6 and (self.single or abs(self.dc_at(after)) < 0.02):
            kinds += ["noninverting", "inverting", "amp", "emitter"] * 2
        if quiet:
            kinds += ["divider", "pot", "pot"]
        return str(rng.choice(kinds))

    def room(self):
        """The largest RMS level that stays well below clipping."""
        swing = (self.high_v - self.low_v) / 2
        return 0.55 * swing / self.crest

    def _name(self, kind):
        letter = {"noninverting": "U", "inverting": "U", "follower": "U", "amp": "A", "emitter": "Q", "coupling": "C",
                  "transformer": "T", "pot": "VR", "wire": "W", "mix": "M"}.get(kind, "R")
        return f"{letter}{len(self.stages) + 1}"

    def _add(self, kind, after):
        level = self.level_at(after)
        # a stage that a fault asks for fits wherever it lands: levels are made to
        reach = float(np.clip(self.room() / level, 0.02, 1e3))
        stage = getattr(self, "_" + kind)(reach, level, after)
        stage.after = after
        if after != len(self.stages) - 1:
            stage.text.append("after = " + (self.stages[after].name if after >= 0 else "J1"))
        self.stages.append(stage)
        return stage

    def _part(self, nominal, tolerance):
        return nominal * (1 + self.rng.uniform(-1, 1) * tolerance)

    def _tolerance(self, gain_spread_is_small=False):
        """(true tolerance, text): 10 % is always told, less sometimes."""
        rng = self.rng
        tolerance = float(rng.choice([0.01, 0.05] if gain_spread_is_small else [0.01, 0.05, 0.05, 0.1]))
        told = tolerance > 0.05 or rng.random() < 0.5
        return tolerance, f" tol={tolerance * 100:g} %" if told else ""

    def _new(self, kind, text, gain, nominal, **more):
        return Stage(kind, self._name(kind), -1, [f"stage = {text}"] if text else [], gain, nominal, **more)

    def _active_dc(self, stage, after):
        """Op-amps: ground-referred on two supplies, at half of one."""
        rng = self.rng
        stage.active = True
        stage.offset_v = rng.uniform(-3e-3, 3e-3)
        if not self.single:
            return stage
        if stage.kind == "follower" and self.has_dc(after):
            return stage
        stage.dc = "bias"
        stage.bias_v = self.supply_v / 2 * (1 + rng.uniform(-0.03, 0.03))
        stage.noise_gain = 1.0
        stage.stated_dc = (self.supply_v / 2, 0.1)
        stage.text.append(f"dc = {self.supply_v / 2:g} V ± 10 %")
        return stage

    def _gain_target(self, reach):
        return float(np.exp(self.rng.uniform(np.log(1.5), np.log(np.clip(reach, 1.6, 30)))))

    def _noninverting(self, reach, level, after):
        rg = float(self.rng.choice(E12)) * 100
        rf = nearest(rg * max(self._gain_target(reach) - 1, 0.1))
        tolerance, told = self._tolerance()
        gain = 1 + self._part(rf, tolerance) / self._part(rg, tolerance)
        stage = self._new("noninverting", f"noninverting rf={ohms(rf)} rg={ohms(rg)}{told}", gain, 1 + rf / rg)
        stage.noise_gain = gain
        stage.tolerance_db = max(1, decibels((1 + rf / rg * (1 + tolerance) / (1 - tolerance)) / (1 + rf / rg)))
        return self._active_dc(stage, after)

    def _inverting(self, reach, level, after):
        rin = float(self.rng.choice(E12)) * 1000
        rf = nearest(rin * self._gain_target(reach) * self.rng.choice([1, 1, 0.5]))
        tolerance, told = self._tolerance()
        gain = -self._part(rf, tolerance) / self._part(rin, tolerance)
        stage = self._new("inverting", f"inverting rf={ohms(rf)} rin={ohms(rin)}{told}", gain, rf / rin)
        stage.noise_gain = 1 - gain
        stage.tolerance_db = max(1, decibels((1 + tolerance) / (1 - tolerance)))
        return self._active_dc(stage, after)

    def _follower(self, reach, level, after):
        return self._active_dc(self._new("follower", "follower", 1.0, 1.0), after)

    def _divider(self, reach, level, after):
        top = float(self.rng.choice(E12)) * 1000
        share = self.rng.uniform(0.15, 0.7)
        bottom = nearest(top * share / (1 - share))
        tolerance, told = self._tolerance(True)
        t, b = self._part(top, tolerance), self._part(bottom, tolerance)
        return self._new("divider", f"divider top={ohms(top)} bottom={ohms(bottom)}{told}", b / (t + b),
                         bottom / (top + bottom))

    def _pot(self, reach, level, after):
        """Knobs are read by eye and tracks are not what they say: linear within 1.2 dB, stated within 2.5 dB."""
        rng = self.rng
        if rng.random() < 0.6:
            position = rng.integers(3, 11) / 10
            gain = position * 10 ** (rng.uniform(-1.2, 1.2) / 20 * (position < 1))
            stage = self._new("pot", f"pot position={position * 100:g} %", gain, position)
            stage.tolerance_db = 1.5
            return stage
        drop = -float(rng.integers(3, 15))
        stage = self._new("pot", None, 10 ** ((drop + rng.uniform(-2.5, 2.5)) / 20), 10 ** (drop / 20))
        stage.text.append(f"gain = {drop:g} dB ± 3 dB")
        stage.tolerance_db = 3
        return stage

    def _coupling(self, reach, level, after):
        rng = self.rng
        load = float(rng.choice(E12)) * 1000
        c = nearest(1 / (2 * np.pi * load * self.lowest_hz() / rng.uniform(15, 150)))
        stage = self._new("coupling", f"coupling c={farads(c)} load={ohms(load)}", 1.0, 1.0, dc="block")
        stage.high_pass_hz = 1 / (2 * np.pi * load * c * (1 + rng.uniform(-0.2, 0.2)))
        stage.parts = {"c": c, "load": load}
        return stage

    def lowest_hz(self):
        return 20.0 if self.shape == "noise" else self.frequency_hz

    def highest_hz(self):
        if self.shape == "noise":
            return 20e3
        return self.frequency_hz * {"two-tone": 1.4, "sine": 1}.get(self.shape, 15)

    def _filter(self, kind, corner_hz):
        rng = self.rng
        r = float(rng.choice(E12)) * 1000
        c = nearest(1 / (2 * np.pi * r * corner_hz))
        true = 1 / (2 * np.pi * self._part(r, 0.05) * self._part(c, 0.05))
        nominal_hz = 1 / (2 * np.pi * r * c)
        ratio = self.frequency_hz / nominal_hz
        nominal = 1 / np.hypot(1, ratio) if kind == "lowpass" else ratio / np.hypot(1, ratio)
        stage = self._new(kind, f"{kind} r={ohms(r)} c={farads(c)} tol=5 %", 1.0, nominal)
        return stage, true

    def _lowpass(self, reach, level, after):
        factor = self.rng.uniform(0.7, 10) if self.shape == "sine" else self.rng.uniform(3, 10)
        stage, true = self._filter("lowpass", self.highest_hz() * factor)
        stage.low_pass_hz = true
        return stage

    def _highpass(self, reach, level, after):
        factor = self.rng.uniform(0.7, 10) if self.shape == "sine" else self.rng.uniform(15, 40)
        stage, true = self._filter("highpass", self.lowest_hz() / factor)
        stage.high_pass_hz = true
        stage.dc = "block"
        return stage

    def _transformer(self, reach, level, after):
        ratio = float(self.rng.choice([r for r in (0.1, 0.2, 0.5, 1, 2, 5) if r <= reach and r * level > 0.03] or [1]))
        gain = ratio * (1 + self.rng.uniform(-0.04, 0.04)) * self.rng.choice([1, -1])
        return self._new("transformer", f"transformer ratio={ratio:g}", gain, ratio, dc="block")

    def _wire(self, reach, level, after):
        return self._new("wire", "wire", 1.0, 1.0)

    def _mix(self, reach, level, after):
        count = int(self.rng.integers(2, 4))
        r = float(self.rng.choice(E12)) * 1000
        true = [self._part(r, 0.05) for _ in range(count)]
        gain = 1 / true[0] / sum(1 / v for v in true)
        return self._new("mix", "mix " + " ".join([f"r={ohms(r)}"] * count), gain, 1 / count)

    def _amp(self, reach, level, after):
        rng = self.rng
        target = round(decibels(self._gain_target(reach)))
        gain = 10 ** ((target + rng.uniform(-0.7, 0.7)) / 20) * rng.choice([1, -1])
        if rng.random() < 0.5:
            stage = self._new("amp", "amp blocks-dc", gain, 10 ** (target / 20), dc="block", active=not self.single)
        else:
            middle = round(self.supply_v * 0.5, 1) if self.single else 0.0
            stage = self._new("amp", "amp", gain, 10 ** (target / 20), dc="bias", active=True)
            stage.bias_v = middle * (1 + rng.uniform(-0.05, 0.05)) + rng.uniform(-5e-3, 5e-3)
            stage.stated_dc = (middle, 0.1 * middle if middle else 0.05)
            stage.text.append(f"dc = {middle:g} V ± " + ("10 %" if middle else "50 mV"))
        stage.text.append(f"gain = {target:g} dB ± 1 dB")
        return stage

    def _emitter(self, reach, level, after):
        rng = self.rng
        re = float(rng.choice(E12)) * 10
        # off the middle of two supplies there is less room on one side
        rc = nearest(re * min(self._gain_target(reach), 0.5 * reach + (1 if self.single else 0.2)))
        tolerance, told = self._tolerance(True)
        gain = -self._part(rc, tolerance) / self._part(re, tolerance)
        stage = self._new("emitter", f"emitter rc={ohms(rc)} re={ohms(re)}{told}", gain, rc / re, dc="bias", active=True)
        if self.single:
            stage.bias_v = 0.52 * self.supply_v * (1 + rng.uniform(-0.08, 0.08))
            stage.stated_dc = (0.52 * self.supply_v, 0.2)
            stage.text.append(f"dc = {0.52 * self.supply_v:.3g} V ± 20 %")
        else:
            stage.bias_v = 0.3 * self.supply_v * (1 + rng.uniform(-0.08, 0.08))
            stage.stated_dc = (0.3 * self.supply_v, 0.2)
            stage.text.append(f"dc = {0.3 * self.supply_v:.3g} V ± 20 %")
        return stage

    # ---- rails

    def _add_rails(self):
        rng = self.rng
        for sign in (1,) if self.single else (1, -1):
            nominal = sign * self.supply_v
            metered = rng.random() < 0.4
            limit = "5 %" if metered else "10 %"
            true = nominal * (1 + rng.uniform(-0.02, 0.02))
            ripple = bench.noise(rng, 2e-4) + 1e-3 * np.sin(2 * np.pi * 100 * bench.TIME_S)
            name = f"{nominal:+g}"
            text = [f"dc = {nominal:g} V ± {limit}"]
            if not metered:
                text.append("ripple = < 100 mV")
            self.rails.append(Rail(name, nominal, true + ripple, text, metered))

    # ---- what happens

    def voltages(self):
        """The voltage at J1 and behind each stage."""
        out = [self.source()]
        for stage in self.stages:
            out.append(stage.run(out[stage.after + 1], self))
        return out

    def names(self):
        return ["J1"] + [stage.name for stage in self.stages]

    def parent(self, index):
        """The name of the point before stage `index`."""
        return self.names()[self.stages[index].after + 1]

    def file_text(self, instrument, rails=True):
        lines = ["[chain]", f"stimulus = {self.stimulus_text()}", *(["mains = 50 Hz"] if self.mains else []),
                 *self.header, "", "[instrument]", *instrument, "", "[point J1]"]
        for stage in self.stages:
            lines += ["", f"[point {stage.name}]", *stage.text]
        for rail in self.rails if rails else []:
            lines += ["", f"[rail {rail.name}]", *rail.text]
        return "\n".join(lines) + "\n"
