"""The bench of the campaign: what an instrument makes of a voltage.

A voltage is one period of 0.2 s, dense, that repeats for ever: so every capture can begin at any time, filters are
exact (by the Fourier transform of the period), and mains and stimulus fit in whole cycles.
"""

import wave

import numpy as np

PERIOD_S = 0.2
DENSE = 1 << 17
RATE_HZ = DENSE / PERIOD_S
TIME_S = np.arange(DENSE) / RATE_HZ
MAINS_HZ = 50.0


def filtered(voltage, response):
    """`voltage` through a filter whose complex response to frequencies in hertz is `response`; DC as the response says."""
    return np.fft.irfft(np.fft.rfft(voltage) * response(np.fft.rfftfreq(DENSE, 1 / RATE_HZ)), DENSE)


def noise(rng, rms, band_hz=20e3):
    """White noise of `rms` volts in `band_hz`, up to half the dense rate."""
    return rng.standard_normal(DENSE) * rms * np.sqrt(RATE_HZ / 2 / band_hz)


def look(voltage, start_s, rate_hz, count):
    """`count` samples from any time on: cubic interpolation (Catmull and Rom 1974) of the period."""
    at = (start_s + np.arange(count) / rate_hz) * RATE_HZ
    whole = np.floor(at).astype(int)
    part = at - whole
    before, here, after, later = (voltage[(whole + k) % DENSE] for k in (-1, 0, 1, 2))
    return here + 0.5 * part * (
        after - before + part * (2 * before - 5 * here + 4 * after - later + part * (3 * (here - after) + later - before))
    )


def nice(value):
    """The nearest of 1, 2, 4, 5 times a power of ten, as time bases are."""
    power = 10.0 ** np.floor(np.log10(value))
    return min((m * power for m in (1, 2, 4, 5, 10)), key=lambda step: abs(np.log(step / value)))


class Scope:
    """An 8-bit oscilloscope: 25 codes a division, ten divisions, ranges in steps of 1-2-5."""

    def __init__(self, rng, accuracy=0.03, probe=1, probe_in_file=True, zero_v=0.0, ac_coupled=False):
        self.rng = rng
        self.accuracy = accuracy
        self.probe = probe
        self.probe_in_file = probe_in_file
        self.zero_v = zero_v
        self.ac_coupled = ac_coupled
        self.centred = 0.8  # how often the operator brings a trace with DC to the middle of the screen

    def _division(self, swing):
        """Volts a division at the tip: the smallest range that holds `swing` either way, sometimes the next but one."""
        ranges = [m * 10.0**p * self.probe for p in range(-3, 2) for m in (1, 2, 5)][1:]
        fits = [r for r in ranges if swing <= 4.8 * r] or ranges[-1:]
        return fits[min(self.rng.choice([0, 0, 0, 1]), len(fits) - 1)]

    def digitise(self, voltage, window):
        """Volts as the file holds them, of one or several voltages seen at the same instants."""
        start_s, rate_hz, count = window
        seen = look(voltage, start_s, rate_hz, count)
        middle = np.mean(voltage)
        if self.ac_coupled:
            seen = seen - middle
        scale, zero = 1 + self.rng.uniform(-1, 1) * self.accuracy, self.rng.uniform(-1, 1) * self.zero_v
        centre = (0.0 if self.ac_coupled else middle) * scale + zero
        swing = np.max(np.abs(voltage - middle)) * scale * 1.02
        offset = 0.0
        if abs(centre) > 0.5 * swing and self.rng.random() < self.centred:
            offset = round(centre, 2 if abs(centre) < 1 else 1)  # as the operator turns the trace to the middle
        division = self._division(swing + abs(centre - offset))
        step = division / 25
        codes = (seen * scale + zero - offset) / step + self.rng.standard_normal(count) * self.rng.uniform(0.3, 1.0)
        codes = np.clip(np.rint(codes), -128, 127)
        factor = 1.0 if self.probe_in_file else 1.0 / self.probe
        return (codes * step + offset) * factor, step * factor

    def write(self, path, voltages, window):
        """A CSV file: time, then each voltage."""
        start_s, rate_hz, count = window
        columns = [self.digitise(v, window) for v in voltages]
        texts = [[f"{i / rate_hz:.9g}" for i in range(count)]]
        for values, step in columns:
            digits = max(0, int(np.ceil(-np.log10(step))) + 2)
            texts.append([f"{v:.{digits}f}" for v in values])
        heading = "Time (s)," + ",".join(f"CH{k + 1} (V)" for k in range(len(columns)))
        path.write_text(heading + "\n" + "\n".join(map(",".join, zip(*texts))) + "\n")


class SoundCard:
    """A 16-bit sound card at 48 kHz behind AC coupling; `full_scale_v` is its volts at full scale."""

    def __init__(self, rng, full_scale_v):
        self.rng = rng
        self.full_scale_v = full_scale_v

    def write(self, path, voltages, window):
        start_s, _, _ = window
        count = int(self.rng.integers(4800, 14400))
        columns = []
        for voltage in voltages:
            seen = look(voltage - np.mean(voltage), start_s, 48000.0, count) / self.full_scale_v
            seen = seen + self.rng.standard_normal(count) * 10 ** (-88 / 20)
            columns.append(np.clip(np.rint(seen * 32768), -32768, 32767).astype("<i2"))
        with wave.open(str(path), "wb") as out:
            out.setparams((len(columns), 2, 48000, count, "NONE", ""))
            out.writeframes(np.column_stack(columns).tobytes())


def window_of(rng, frequency_hz, cycles=None, points=None):
    """Where and how long a capture is: 1.5 to 20 cycles in 600 to 2500 points, at any phase."""
    cycles = rng.uniform(1.5, 20) if cycles is None else cycles
    points = rng.integers(600, 2501) if points is None else points
    step_s = nice(cycles / frequency_hz / points)
    count = int(np.clip(round(cycles / frequency_hz / step_s), 600, 2500))
    return rng.uniform(0, PERIOD_S), 1 / step_s, count
