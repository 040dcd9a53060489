"""`measure --reference`: from one channel of a file to another, beside SciPy's cross-spectrum and coherence, and beside
what was built in: a gain, a delay of whole samples, a polarity, noise of its own in the output."""

import math
import os
import tempfile

import beside
from beside import claim, close, measure

import numpy as np
from scipy import signal

RATE = 48000


def check_programme(path, random):
    count, delay = 2 * RATE, 24
    x = 0.05 * signal.sosfilt(signal.butter(1, 3000, fs=RATE, output="sos"), random.normal(size=count + delay))
    y = -4 * np.roll(x, delay) + 0.01 * random.normal(size=count + delay)
    z = 0.05 * random.normal(size=count + delay)
    x, y, z = x[delay:], y[delay:], z[delay:]
    beside.write_wav(path, RATE, x, y, z)
    told = measure(path, "--reference", "1")
    claim("reference" not in told[0], "a channel is not told against itself")
    to = told[1]["reference"]
    # H1 of SciPy, weighted by the input's power, the delay taken out; its own coherence, weighted likewise
    frequency, cross = signal.csd(x, y, RATE, nperseg=2048)
    _, power = signal.welch(x, RATE, nperseg=2048)
    turned = cross * np.exp(2j * np.pi * frequency * delay / RATE)
    gain = abs(turned.sum()) / power.sum()
    coherence = (signal.coherence(x, y, RATE, nperseg=2048)[1] * power).sum() / power.sum()
    close("gain beside SciPy, dB", to["gain"]["value"], 20 * math.log10(gain), 0.1, 0.01)
    close("gain as built, dB", to["gain"]["value"], 20 * math.log10(4), 0.02, 0.006)
    close("delay, s", to["delay_s"], delay / RATE, 1e-6, 1e-8)
    close("coherence beside SciPy", to["coherence"], coherence, 0.02, 0.005)
    claim(to["polarity"] == "flipped" and to["channel"] == 1 and to["frequency_hz"] is None, "flipped, of a programme")
    other = told[2]["reference"]
    claim("value" not in other["gain"] and other["gain"]["why"], "no gain between strangers")
    only = measure(path, "--reference", "1", "--channel", "2")
    claim(len(only) == 1 and only[0]["reference"] == to, "one channel alone")


def delayed(count, delay, random):
    """White noise up to half the rate, and the same later by `delay` samples or parts of one: its spectrum turned."""
    spectrum = np.fft.rfft(random.normal(0, 0.1, 2 * count))
    spectrum[-1] = 0
    turned = spectrum * np.exp(-2j * np.pi * np.fft.rfftfreq(2 * count) * delay)
    return [np.fft.irfft(one)[count // 2:count // 2 + count] for one in (spectrum, turned)]


def check_delayed_noise(folder, random):
    """A gain is known as well behind a delay by parts of a sample as without one: u95 holds it, and is small."""
    trials, held, widest = 10, 0, 0
    delays = (0.37, 17.3, 120.6)
    for delay in delays:
        paths, gains = [], random.uniform(0.2, 1.5, trials)
        for k, gain in enumerate(gains):
            x, y = delayed(RATE // 2, delay, random)
            paths.append(beside.write_wav(os.path.join(folder, "%d.wav" % k), RATE, 0.5 * x, 0.5 * gain * y))
        for gain, told in zip(gains, measure("--reference", "1", "--channel", "2", *paths)):
            reading = told["reference"]["gain"]
            held += abs(reading["value"] - 20 * math.log10(gain)) <= reading["u95"]
            widest = max(widest, reading["u95"])
    # 95 of 100 less two and a half deviations of chance
    claim(held >= 0.85 * trials * len(delays), "gain of delayed noise held %d times in %d" % (held, trials * len(delays)))
    close("u95 of the gain of delayed noise, dB", widest, 0, 0.01, 2e-4)


def check_tone(path):
    t = np.arange(RATE) / RATE
    turn = 2 * np.pi * 997 * t
    beside.write_wav(path, RATE, 0.1 * np.sin(turn), 0.3 * np.sin(turn - 0.5))
    told = measure(path, "--reference", "2")
    to = told[0]["reference"]
    close("gain of a tone, dB", to["gain"]["value"], -20 * math.log10(3), 1e-4, 1e-8)
    close("phase, degrees", to["phase_deg"], math.degrees(0.5), 1e-3, 1e-7)
    close("frequency, Hz", to["frequency_hz"], 997, 1e-4, 1e-8)
    claim(to["polarity"] == "kept", "kept")


def check_mistakes(path):
    _, errors = beside.measure_to(2, path, "--reference", "7")
    claim("no channel '7'" in errors, "a channel that is not there: %s" % errors.strip())


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "pair.wav")
        check_programme(path, np.random.default_rng(11))
        check_tone(path)
        check_mistakes(path)
        check_delayed_noise(folder, np.random.default_rng(12))
    beside.end()


main()
