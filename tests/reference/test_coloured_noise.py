"""Noise of any colour, shaped by SciPy's own filters: it has no tone, no hum and no pitch; tones and hum that are put
into it are found all the same. Levels of hum are closed forms: amplitude over root two, added by squares."""

import os
import tempfile

import beside
from beside import claim, close

import numpy as np
from scipy import signal

RATE = 48000
SETTLE = 48000


def pink(count, random):
    spectrum = np.fft.rfft(random.normal(size=4 * count))
    order = np.arange(len(spectrum))
    spectrum[1:] /= np.sqrt(order[1:])
    spectrum[0] = 0
    return np.fft.irfft(spectrum)[:count]


def filtered(count, random, order, edges, kind, white=0.0):
    sections = signal.butter(order, edges, kind, fs=RATE, output="sos")
    return signal.sosfilt(sections, random.normal(size=count + SETTLE))[SETTLE:] + white * random.normal(size=count)


def a_hump(count, random):
    low = random.uniform(60, 300)
    return filtered(count, random, 2, [low, low * random.uniform(1.6, 4)], "band", 0.003)


COLOURS = {
    "white": lambda count, random: random.normal(size=count),
    "pink": pink,
    "a hump": a_hump,
    "low-passed": lambda count, random: filtered(count, random, 1, random.uniform(200, 2000), "low"),
}
EACH = 3


def measure(captures, *options):
    """What the program says of arrays of samples, -1..1."""
    with tempfile.TemporaryDirectory() as folder:
        names = []
        for k, samples in enumerate(captures):
            names.append(beside.write_wav(os.path.join(folder, "%d.wav" % k), RATE, samples, bits=24))
        return beside.measure(*options, *names)


def scaled(noise, rms=0.05):
    return noise * rms / np.sqrt(np.mean(noise**2))


def check_nothing_invented(random):
    for name, make in COLOURS.items():
        for seconds in (0.1, 0.3, 1.0):
            told = measure([scaled(make(int(seconds * RATE), random)) for _ in range(EACH)])
            for one in told:
                readings, what = one["readings"], "%s, %g s: " % (name, seconds)
                claim("value" not in readings["frequency"], what + "a frequency")
                claim("value" not in readings["thd"], what + "THD")
                claim("value" not in readings["hum"], what + "hum")
                claim(not one["tones"], what + "tones %s" % one["tones"][:2])
            noises = sum(one["signal"] == "noise" for one in told)
            claim(noises == EACH, "%s, %g s: %d noises" % (name, seconds, noises))
            print("%-10s %4g s: %d of %d are noise" % (name, seconds, noises, EACH))


def check_hum_is_found(random):
    """Hum of 50 and 100 Hz, 10 mV and 4 mV RMS, in noise of 50 mV of which little lies there: in a second it moves a line
    by the root of its density there, 0.3 mV of white noise and up to 1.3 mV of low-passed."""
    count = RATE
    t = np.arange(count) / RATE
    hum = np.sqrt(2) * (0.010 * np.sin(2 * np.pi * 50.02 * t + 1) + 0.004 * np.sin(2 * np.pi * 100.04 * t))
    for name, tolerances in (("white", (1e-3, 5e-4)), ("low-passed", (4e-3, 2e-3))):
        for one in measure([scaled(COLOURS[name](count, random)) + hum for _ in range(EACH)], "--stimulus", "noise"):
            close("hum in %s noise" % name, one["readings"]["hum"].get("value"), np.hypot(0.010, 0.004), *tolerances)


def check_tone_is_found(random):
    """A sine of 997 Hz as strong as the noise, and a comb of six equal lines."""
    count = RATE // 2
    t = np.arange(count) / RATE
    for name, make in COLOURS.items():
        for one in measure([scaled(make(count, random)) + 0.05 * np.sqrt(2) * np.sin(2 * np.pi * 997 * t)
                            for _ in range(EACH)]):
            claim(one["signal"] == "sine" and abs(one["readings"]["frequency"]["value"] - 997) < 0.5,
                  "a sine in %s noise" % name)
        comb = sum(0.03 * np.sin(2 * np.pi * 311 * order * t + order) for order in range(1, 7))
        # pink noise of this strength has larger swings below the comb than the comb itself
        right = sum(one["signal"] == "periodic" and abs(one["readings"]["frequency"]["value"] - 311) < 0.5
                    for one in measure([scaled(make(count, random)) + comb for _ in range(EACH)]))
        claim(right >= EACH - (2 if name == "pink" else 0), "%d combs of %d in %s noise" % (right, EACH, name))


def brownian(count, random, power):
    """Noise of a density over f to the `power`, flat below a quarter of the record's own frequency; that density."""
    frequencies = np.fft.rfftfreq(4 * count, 1 / RATE)
    gains = np.concatenate(([0], frequencies[1:-1]**(-power / 2), [0]))
    scale = 0.05 / np.sqrt(4 / (4 * count)**2 * np.sum(gains**2))
    lines = random.normal(size=len(gains)) + 1j * random.normal(size=len(gains))
    samples = np.fft.irfft(lines * gains * scale, 4 * count)[:count]
    return samples, lambda f: scale * np.sqrt(4 / (4 * count * RATE)) * f**(-power / 2)


def check_uncertainty(random):
    """u95 of noise and of its density holds what the noise has: in 93 of 100 trials, less two and a half deviations of chance."""
    trials = 100
    least = 93 - 2.5 * np.sqrt(trials * 0.07 * 0.93)
    # what a short record of Brownian noise has missed is not known: u95 reaches for half of the value at most, as noise
    # that a circuit adds is to be told as such
    short = 75
    for power, count in ((2, 1500), (2, 4800), (1, 1500)):
        made = [brownian(count, random, power) for _ in range(trials)]
        held = {"noise": [], "noise_density": [], "dc": [], "drift": []}
        for (_, density), one in zip(made, measure([samples for samples, _ in made])):
            if one["signal"] != "noise":
                continue
            low, high = one["band_hz"]
            f = np.geomspace(low, high, 4000)
            truth = {"noise": np.sqrt(np.trapz(density(f)**2, f)), "noise_density": density((low + high) / 2), "dc": 0, "drift": 0}
            for key, is_so in truth.items():
                reading = one["readings"][key]
                held[key].append("value" not in reading or abs(reading["value"] - is_so) <= reading["u95"])
        for key, which in held.items():
            share = 100 * np.mean(which)
            print("1/f^%d, %d samples: u95 of %s holds in %.0f %% of %d" % (power, count, key, share, len(which)))
            wanted = short if (power, count, key) == (2, 1500, "noise") else least
            claim(share >= wanted, "1/f^%d, %d samples: %s held in %.0f %%" % (power, count, key, share))


def check_sine_with_slow_noise(random):
    """A sine of half the RMS of the pink noise it stands in: noise that is found on the comb is no distortion, that on a comb of
    half its frequency no fundamental; DC and drift are 0, and u95 reaches there in 93 of 100 trials, less two and a half
    deviations of chance."""
    trials, count = 80, 20000
    least = 93 - 2.5 * np.sqrt(trials * 0.07 * 0.93) * 100 / trials
    t = np.arange(count) / RATE
    made = [brownian(count, random, 1)[0] + 0.035 * np.sin(2 * np.pi * random.uniform(65, 75) * t + random.uniform(0, 6))
            for _ in range(trials)]
    told = measure(made)
    lower = sum(one["signal"] == "periodic" for one in told)
    claim(lower <= trials // 40, "a lower pitch of %d sines in pink noise" % lower)
    told = [one for one in told if one["signal"] == "sine"]
    claim(len(told) >= trials // 2, "%d sines of %d in pink noise" % (len(told), trials))
    distorted = sum("value" in one["readings"]["thd"] for one in told)
    claim(distorted <= trials // 40, "THD of %d sines in pink noise" % distorted)
    for key in ("dc", "drift"):
        share = 100 * np.mean([abs(one["readings"][key]["value"]) <= one["readings"][key]["u95"] for one in told])
        print("a sine in pink noise: u95 of %s holds in %.0f %% of %d" % (key, share, len(told)))
        claim(share >= least, "a sine in pink noise: %s held in %.0f %%" % (key, share))


def main():
    random = np.random.default_rng(61672)
    check_nothing_invented(random)
    check_hum_is_found(random)
    check_tone_is_found(random)
    check_uncertainty(random)
    check_sine_with_slow_noise(random)
    beside.end()


main()
