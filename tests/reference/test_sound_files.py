"""Sound files that Debian packages carry, measured by the program; the expected figures come from the files' makers, from
a sheet of check values (its names stand in front), or are computed here with NumPy and SciPy.

  Sine-1000Hz-300ms.aif, audiodata/pluck-*.wav   libpython3.*-testsuite
  Noise.wav                                      alsa-utils
  io/tests/data/*.wav (tones), misc/ecg.dat      python3-scipy
  (360 Hz, 60 Hz mains in it)
"""

import glob
import math
import os
import tempfile
import warnings

import beside
from beside import claim, close, measure

import numpy as np
import scipy
from scipy import optimize, signal
from scipy.io import wavfile


def find(pattern):
    found = sorted(glob.glob(pattern))
    if not found:
        beside.skip(pattern)
    return found[0] if found else None


def check_sine(path):
    """1 kHz at -3 dBFS, 48 kHz, 16 bits, undithered, 300 whole periods: its rounding is a comb of harmonics. The figures
    of distortion are those of the samples' own Fourier transform, taken here."""
    raw = open(path, "rb").read()
    samples = np.frombuffer(raw[-14400 * 4:], ">i2").reshape(-1, 2)[:, 0] / 32768  # the sound ends the file
    power = np.abs(np.fft.rfft(samples))**2
    lines = power[300::300]
    sinad = 10 * math.log10(lines[0] / (power[1:].sum() - lines[0]))
    thd = 100 * math.sqrt(lines[1:10].sum() / lines[0])
    close("F-aif-sinad by the transform, dB", sinad, 95.2774, 1e-3)
    for name, last, value in (("F-aif-thd5", 5, -98.0109), ("F-aif-thd10", 10, -97.7868), ("F-aif-thd23", 23, -95.2774)):
        close(name + " by the transform, dB", 10 * math.log10(lines[1:last].sum() / lines[0]), value, 2e-3)
    for one in measure(path):
        readings = one["readings"]
        claim(one["signal"] == "sine", "a sine")
        close("F-aif-lvl, dBFS", readings["level_dbv"]["value"], -3, 2e-4, 2e-5)
        close("F-aif-f, Hz", readings["frequency"]["value"], 1000, 1e-6, 1e-8)
        close("F-aif-sinad, dB", readings["sinad"]["value"], 95.2774, 1e-3, 1e-5)
        # all distortion and noise there is: the 22 lines hold all of it
        close("F-aif-thd23, dB", -readings["sinad"]["value"], -95.2774, 1e-3, 1e-5)
        for peak in ("peak_high", "peak_low"):
            close("F-aif-pk, steps", abs(readings[peak]["value"]) * 32768, 23198, 0.5, 1e-9)
        claim("value" not in readings["thd"] and readings["thd"]["below"] > thd,
              "THD is a bound above the rounding's own %.4g %%" % thd)
        claim(any("divides the sample rate" in remark for remark in one["remarks"]), "the remark on rounding")


def weighting_a(frequency):
    """IEC 61672-1:2013, annex E: four poles; 0 dB at 1 kHz."""
    poles = (20.598997, 107.65265, 737.86223, 12194.217)
    def magnitude(f):
        f2 = f * f
        return poles[3]**2 * f2 * f2 / ((f2 + poles[0]**2) * np.sqrt((f2 + poles[1]**2) * (f2 + poles[2]**2)) *
                                        (f2 + poles[3]**2))
    return magnitude(frequency) / magnitude(1000.0)


def check_noise(path):
    rate, samples = wavfile.read(path)
    samples = samples / 32768
    spectrum = np.abs(np.fft.rfft(samples))**2
    frequency = np.fft.rfftfreq(len(samples), 1 / rate)
    inside = (frequency >= 20) & (frequency <= 20000)
    rms = math.sqrt(np.mean((samples - samples.mean())**2))
    band = math.sqrt(2 * spectrum[inside].sum()) / len(samples)
    weighted = math.sqrt(2 * (spectrum[inside] * weighting_a(frequency[inside])**2).sum()) / len(samples)
    one = measure(path)[0]
    readings = one["readings"]
    claim(one["signal"] == "noise" and "value" not in readings["frequency"] and "value" not in readings["hum"] and
          not one["tones"], "noise: no pitch, no tone, no hum")
    close("F-alsa-rms, dBFS", 20 * math.log10(readings["ac_rms"]["value"] * math.sqrt(2)), -26.952, 2e-3, 5e-4)
    close("F-alsa-dc", readings["dc"]["value"], -5.7939e-05, 1e-8, 1e-9)
    # by a transform of the whole record; Welch's averages scatter by what a record of 1.4 s leaves open
    close("F-alsa-A by the transform, dB", 20 * math.log10(weighted / band), -4.131, 0.01)
    close("F-alsa-A, dB", 20 * math.log10(readings["noise_a"]["value"] / readings["noise"]["value"]), -4.131, 0.1, 0.06)
    close("RMS", readings["ac_rms"]["value"], rms, 1e-4 * rms, 1e-5 * rms)
    # Welch's segments weigh the ends of the record less than its middle
    close("in the band", readings["noise"]["value"], band, 0.02 * band, 1e-5 * band)
    close("A-weighted", readings["noise_a"]["value"], weighted, 0.02 * weighted, 0.008 * weighted)


def check_pluck(paths):
    """One pluck at four lengths of word, which touches the lower end of each range."""
    levels = []
    for path in paths:
        one = measure(path)[0]
        readings = one["readings"]
        # codes 0 of 8 bits, -32768 of 16: the range's end
        close("F-pl: " + os.path.basename(path) + ", lowest peak", readings["peak_low"]["value"], -1, 1e-9)
        levels.append(readings["frequency"]["value"])
    close("pitch at 8 and 32 bits, Hz", levels[0], levels[-1], 0.5, 2e-3)


def sine_fit(samples, rate, near):
    """Frequency, amplitude, DC and RMS residual by least squares of four unknowns (IEEE Std 1057), solved by SciPy."""
    t = (np.arange(len(samples)) - (len(samples) - 1) / 2) / rate

    def linear(ratio):
        turn = 2 * np.pi * near * ratio[0] * t
        columns = np.stack([np.cos(turn), np.sin(turn), np.ones_like(t)], 1)
        found = np.linalg.lstsq(columns, samples, rcond=None)[0]
        return found, samples - columns @ found

    solved = optimize.least_squares(lambda ratio: linear(ratio)[1], [1.0], x_scale=1e-6, xtol=1e-15, ftol=1e-15,
                                    gtol=1e-15, diff_step=1e-7)
    found, rest = linear(solved.x)
    return near * solved.x[0], math.hypot(found[0], found[1]), found[2], math.sqrt(np.mean(rest**2))


# file, frequency, amplitude, its check value's name, what is asked, how near
TONES = (
    ("test-44100Hz-le-1ch-4bytes.wav", 1000, 0.705, "F-sp-1k", 1e-6, 1e-7),
    ("test-48000Hz-2ch-64bit-float-le-wavex.wav", 440, 0.8, "F-sp-f64", 1e-6, 1e-7),
    ("test-44100Hz-2ch-32bit-float-le.wav", 440, 0.8, "F-sp-f32", 1e-6, 1e-7),
    ("test-8000Hz-le-2ch-1byteu.wav", 1000, 0.69674, "F-sp-u8", 2e-4, 1e-5),
)


def check_tone(folder, name, near, amplitude, label, *tolerances):
    """Integers of 32 and 8 bits and floats of 64 and 32, in the first channel; beside SciPy's reading and its fit."""
    path = os.path.join(folder, name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of chunks that are not known
        rate, raw = wavfile.read(path)
    samples = (raw if raw.ndim == 1 else raw[:, 0]).astype(float)
    if raw.dtype == np.uint8:
        samples = (samples - 128) / 128
    elif raw.dtype == np.int32:
        samples = samples / 2**31
    frequency, fitted, dc, rest = sine_fit(samples, rate, near)
    one = measure(path)[0]
    readings = one["readings"]
    claim(one["signal"] == "sine" and one["rate_hz"] == rate and one["samples"] == len(samples), name + ": a sine, whole")
    close(label + ", amplitude", math.sqrt(2) * readings["level"]["value"], amplitude, *tolerances)
    close(label + ", amplitude beside SciPy", math.sqrt(2) * readings["level"]["value"], fitted, 1e-6 * fitted, 1e-9)
    close(label + ", frequency beside SciPy, Hz", readings["frequency"]["value"], frequency, 1e-6 * frequency, 1e-7)
    close(label + ", DC beside SciPy", readings["dc"]["value"], dc, 1e-6, 1e-9)
    claim("below" in readings["thd"] and readings["thd"]["below"] < 0.5, label + ": no distortion: %s" % readings["thd"])
    if label == "F-sp-1k":
        close("F-sp-1kf, Hz", readings["frequency"]["value"], 1000, readings["frequency"]["u95"], 2e-5)
    if label == "F-sp-u8":
        # the program's residual has four unknowns less than samples
        count = len(samples)
        close("F-sp-u8s by SciPy, dB", 20 * math.log10(fitted / math.sqrt(2) / rest), 40.505, 0.02, 1e-3)
        close("F-sp-u8s, dB", readings["sinad"]["value"] - 10 * math.log10(1 - 4 / count), 40.505, 0.02, 1e-3)


def check_tones():
    folder = os.path.join(os.path.dirname(scipy.__file__), "io", "tests", "data")
    for row in TONES:
        if os.path.exists(os.path.join(folder, row[0])):
            check_tone(folder, *row)
        else:
            beside.skip(os.path.join(folder, row[0]))


def check_heart():
    """Mains at 60 Hz in a recording of a heart, sampled at 360 Hz: above what stands around it by SciPy's Welch, and its
    level by the highest line of the whole record's transform, zeros behind it."""
    path = os.path.join(os.path.dirname(scipy.__file__), "misc", "ecg.dat")
    if not os.path.exists(path):
        beside.skip(path)
        return
    with np.load(path) as kept:
        samples = (kept["ecg"].astype(int) - 1024) / 200.0
    close("F-ecg-dc of the recording, mV", samples.mean(), -0.165109, 1e-5)
    close("F-ecg-rms of the recording, mV", samples.std(), 0.59925, 1e-4)
    frequency, density = signal.welch(samples, 360, nperseg=3600)
    near = (frequency > 55) & (frequency < 65)
    floor = np.median(density[near & (abs(frequency - 60) > 1)])
    close("F-ecg-60 by SciPy, dB", 10 * math.log10(density[near].max() / floor), 16.3, 0.5)
    line = np.abs(np.fft.rfft(samples, 8 * len(samples)))
    at = slice(int(59.8 / 360 * 8 * len(samples)), int(60.2 / 360 * 8 * len(samples)))
    with tempfile.TemporaryDirectory() as folder:
        name = beside.write_csv(os.path.join(folder, "heart.csv"), samples, 360, "%.3f", "mV")
        one = measure(name, "--mains", "60Hz", "--accuracy", "0%")[0]
    readings = one["readings"]
    total, dc = readings["total_rms"]["value"] * 1e3, readings["dc"]["value"] * 1e3
    close("F-ecg-rms, mV", math.sqrt(total**2 - dc**2), 0.59925, 1e-4, 1e-5)
    close("RMS without the slope, mV", readings["ac_rms"]["value"] * 1e3, signal.detrend(samples).std(), 1e-4, 1e-5)
    close("F-ecg-dc, mV", dc, -0.165109, 1e-5, 2e-6)
    found = [tone for tone in one["tones"] if abs(tone["frequency_hz"] - 60) < 0.2]
    claim(len(found) == 1, "F-ecg-60: one line of the mains: %s" % one["tones"])
    if found:
        close("F-ecg-60, level in mV", found[0]["rms"] * 1e3, math.sqrt(2) * line[at].max() / len(samples), 1e-3, 2e-4)
    claim("value" not in readings["pitch"] or readings["frequency"]["value"] < 3, "no tone in the band of sound")


def main():
    sine = find("/usr/lib/python3*/test/Sine-1000Hz-300ms.aif")
    plucks = [find("/usr/lib/python3*/test/audiodata/pluck-pcm%d.wav" % bits) for bits in (8, 16, 24, 32)]
    noise = find("/usr/share/sounds/alsa/Noise.wav")
    if sine:
        check_sine(sine)
    if noise:
        check_noise(noise)
    if all(plucks):
        check_pluck(plucks)
    check_tones()
    check_heart()
    beside.end()


main()
