"""Records whose every figure is known: a constant, a slope, lines, noise of known spectrum; and what the best of all
estimators would make of them.

Sources: Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993 (Fisher matrix of a signal in
Gaussian noise, J' C^-1 J); Rife & Boorstyn 1974; for few cycles Andersson & Haendel, "IEEE Standard 1057, Cramer-Rao
bound and the parsimony principle". IEC 61672-1:2013, E.4.1 for weighting A."""

import dataclasses

import numpy as np
from scipy.linalg import solve_triangular

PINK_LONGER = 8  # pink noise goes on below one cycle a record, down to this many times less


@dataclasses.dataclass
class Line:
    """A sine: `multiple` times a base frequency, in cycles a record."""

    base: str
    cycles: float
    multiple: int
    peak: float
    phase: float  # turns, at mid-record


@dataclasses.dataclass
class Colour:
    """Noise of any other density: how to draw it, and the density itself, V^2/Hz, of frequencies in cycles a sample."""

    draw: object  # of a generator and a count of samples
    density: object  # one-sided, V^2 a cycle a sample


@dataclasses.dataclass
class Record:
    """One trial: what it was made of, and its samples."""

    rate: int
    count: int
    dc: float = 0.0
    slope: float = 0.0  # from the record's begin to its end
    lines: list = dataclasses.field(default_factory=list)
    white: float = 0.0  # standard deviation
    pink: float = 0.0  # V^2: the density is pink/f
    colour: Colour = None  # other noise than white and pink
    step: float = 0.0
    clean: np.ndarray = None
    noise: np.ndarray = None
    samples: np.ndarray = None


def times(count):
    """In records, 0 in the middle."""
    return (np.arange(count) - 0.5 * (count - 1)) / count


def wave(line, when):
    return line.peak * np.sin(2 * np.pi * (line.multiple * line.cycles * when + line.phase))


def pink_density(record):
    """One-sided density at the frequencies of a record PINK_LONGER as long; nothing at 0."""
    frequencies = np.fft.rfftfreq(PINK_LONGER * record.count, 1 / record.rate)
    density = np.zeros_like(frequencies)
    density[1:] = record.pink / frequencies[1:]
    return density


def pink_noise(record, random):
    longer = PINK_LONGER * record.count
    density = pink_density(record)
    parts = random.normal(size=(2, len(density)))
    # E|X|^2 = S fs n / 2
    spectrum = np.sqrt(density * record.rate * longer / 4) * (parts[0] + 1j * parts[1])
    spectrum[-1] = np.sqrt(2) * spectrum[-1].real
    return np.fft.irfft(spectrum, longer)[: record.count]


def make(record, random):
    when = times(record.count)
    record.clean = record.dc + record.slope * when
    for line in record.lines:
        record.clean = record.clean + wave(line, when)
    record.noise = record.white * random.normal(size=record.count)
    if record.pink > 0:
        record.noise = record.noise + pink_noise(record, random)
    if record.colour:
        record.noise = record.noise + record.colour.draw(random, record.count)
    record.samples = record.clean + record.noise
    return record


# ---- the truth ------------------------------------------------------------------------------------------------------


def weight_a(f):
    f = np.asarray(f, float) ** 2
    a = 12194.217**2 * f * f
    a = a / ((f + 20.598997**2) * np.sqrt((f + 107.65265**2) * (f + 737.86223**2)) * (f + 12194.217**2))
    return a / 0.794328235  # -2.000 dB at 1 kHz


def noise_power(record, low, high, weight=None):
    """Mean square between two frequencies."""
    edges = np.geomspace(low, high, 4001)
    middle = np.sqrt(edges[1:] * edges[:-1])
    density = 2 * record.white**2 / record.rate + record.pink / middle
    if record.colour:
        density = density + record.colour.density(middle / record.rate) / record.rate
    squares = np.ones_like(middle) if weight is None else weight(middle) ** 2
    return float(np.sum(density * squares * np.diff(edges)))


def hertz(record, line):
    return line.multiple * line.cycles * record.rate / record.count


def truth_of(record, kind):
    """Readings as they should be, ratios plain. `kind`: what the record holds."""
    low, high = max(20, record.rate / record.count), min(20e3, record.rate / 2)
    signal = [line for line in record.lines if line.base in ("signal", "second")]
    power = {id(line): line.peak**2 / 2 for line in record.lines}
    everything = sum(power.values())
    whole = record.white**2 + (noise_power(record, record.rate / record.count / PINK_LONGER, record.rate / 2)
                               - record.white**2 if record.pink else 0)
    if record.colour:
        whole += noise_power(dataclasses.replace(record, white=0.0, pink=0.0), record.rate / record.count / PINK_LONGER,
                             record.rate / 2)
    noise = noise_power(record, low, high)
    truth = {
        "dc": record.dc,
        "noise": np.sqrt(noise),
        "noise_a": np.sqrt(noise_power(record, low, high, weight_a)),
        "noise_density": np.sqrt(2 * record.white**2 / record.rate + record.pink / ((low + high) / 2)),
        "hum": np.sqrt(sum(power[id(line)] for line in record.lines if line.base == "mains")),
        "drift": record.slope * record.rate / record.count,
    }
    if record.colour:
        del truth["noise_density"]
    if record.slope == 0 and record.pink == 0 and not record.colour:
        truth["ac_rms"] = np.sqrt(everything + whole)
        truth["total_rms"] = np.hypot(truth["ac_rms"], record.dc)
        truth["peak_high"], truth["peak_low"] = record.clean.max(), record.clean.min()
        truth["peak_to_peak"] = truth["peak_high"] - truth["peak_low"]
        truth["crest"] = max(truth["peak_high"] - record.dc, record.dc - truth["peak_low"]) / truth["ac_rms"]
    if kind in ("noise", "none", "dc"):
        if kind == "noise":
            truth["level"] = truth["noise"]
        return truth
    first = next(line for line in signal if line.base == "signal" and line.multiple == 1)
    counted = [first] if kind == "sine" else signal
    level = sum(power[id(line)] for line in counted)
    truth["frequency"] = hertz(record, first)
    truth["level"] = np.sqrt(level)
    truth["snr"] = np.sqrt(level / noise) if noise > 0 else np.inf
    if kind == "sine":
        fundamental = power[id(first)]
        harmonics = [line for line in signal if line.base == "signal" and 2 <= line.multiple <= 10]
        truth["thd"] = np.sqrt(sum(power[id(line)] for line in harmonics) / fundamental)
        # lines count in the band that was asked for: hum is there though a short record shows no noise so low
        rest = noise + sum(p for line, p in ((one, power[id(one)]) for one in record.lines)
                           if line is not first and 20 <= hertz(record, line) <= high)
        truth["thd_n"] = np.sqrt(rest / (rest + fundamental))
        if record.pink == 0 and record.step == 0:  # of steps it is the record's own (IEEE Std 1057)
            truth["sinad"] = np.sqrt(fundamental / (everything - fundamental + whole))
    return truth


# ---- the bound ------------------------------------------------------------------------------------------------------


def jacobian(record, held=()):
    """Columns of all unknowns: dc, slope where there is one, cosine and sine of every line, each free base frequency
    (those in `held` are known). Also where each stands."""
    when = times(record.count)
    columns, places = [np.ones_like(when)], {"dc": 0}
    if record.slope:
        columns.append(when)
    by_base = {}
    for line in record.lines:
        angle = 2 * np.pi * line.multiple * line.cycles * when
        places[id(line)] = len(columns)
        columns += [np.cos(angle), np.sin(angle)]
        turned = angle + 2 * np.pi * line.phase
        slope = line.peak * 2 * np.pi * line.multiple * when * np.cos(turned)
        by_base[line.base] = by_base.get(line.base, 0) + slope
    for base, column in by_base.items():
        if base not in held:
            places[base] = len(columns)
            columns.append(column)
    return np.stack(columns, 1), places


class Whitener:
    """Takes the colour out of pink noise; made once for a scenario."""

    def __init__(self):
        self.made = {}

    def __call__(self, record, matrix):
        if record.pink == 0:
            return matrix
        # of pink noise the covariance does not depend on the rate, and what is asked of it not on its size
        key = (record.count, round(record.white**2 / record.pink, 9))
        if key not in self.made:
            covariance = np.fft.irfft(pink_density(record)) * record.rate / (2 * record.pink)
            covariance[0] += record.white**2 / record.pink
            lags = np.abs(np.subtract.outer(np.arange(record.count), np.arange(record.count)))
            self.made[key] = np.linalg.cholesky(covariance[lags])
        return solve_triangular(self.made[key], matrix, lower=True, check_finite=False)


def best_errors(record, kind, whitener, held=()):
    """Errors that the efficient estimator would make with this very noise, whose variance is the bound: compared trial
    by trial, a few hundred tell a few per cent of variance."""
    matrix, places = jacobian(record, held)
    matrix, noise = whitener(record, matrix), whitener(record, record.noise)
    steps = np.linalg.solve(matrix.T @ matrix, matrix.T @ noise)
    errors = {"dc": steps[0]}
    if kind in ("sine", "periodic", "two-tone"):
        if "signal" in places:
            errors["frequency"] = steps[places["signal"]] * record.rate / record.count
        signal = [line for line in record.lines if line.base in ("signal", "second")]
        counted = [line for line in signal if line.base == "signal" and line.multiple == 1] if kind == "sine" else signal
        level, change = 0, 0
        for line in counted:
            at, turn = places[id(line)], 2 * np.pi * line.phase
            level += line.peak**2 / 2
            change += line.peak * (np.sin(turn) * steps[at] + np.cos(turn) * steps[at + 1])
        errors["level"] = change / (2 * np.sqrt(level))
    return errors
