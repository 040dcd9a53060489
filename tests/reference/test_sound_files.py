"""Sound files that Debian packages carry, measured by the program; the expected figures come from the files' makers or
are computed here with NumPy and SciPy.

  Sine-1000Hz-300ms.aif, audiodata/pluck-*.wav   libpython3.*-testsuite
  Noise.wav                                      alsa-utils
  ecg.dat (360 Hz, 60 Hz mains in it)            python3-scipy
"""

import glob
import math
import os
import tempfile

import beside
from beside import claim, close, measure

import numpy as np
import scipy
from scipy import signal
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
    close("SINAD by the transform, dB", sinad, 95.277, 2e-3)
    for one in measure(path):
        readings = one["readings"]
        claim(one["signal"] == "sine", "a sine")
        close("level, dBFS", readings["level_dbv"]["value"], -3, 1e-3, 2e-5)
        close("frequency, Hz", readings["frequency"]["value"], 1000, 1e-4, 1e-8)
        close("SINAD, dB", readings["sinad"]["value"], sinad, 1e-2, 1e-5)
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
    close("RMS, dBFS", 20 * math.log10(readings["ac_rms"]["value"] * math.sqrt(2)), -26.952, 0.01, 5e-4)
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
        close(os.path.basename(path) + ", lowest peak", readings["peak_low"]["value"], -1, 1e-9)
        levels.append(readings["frequency"]["value"])
    close("pitch at 8 and 32 bits, Hz", levels[0], levels[-1], 0.5, 2e-3)


def check_heart():
    """Mains at 60 Hz in a recording of a heart, sampled at 360 Hz; the line by a fit of one sinusoid to the quietest
    five seconds, with the slow heart taken out by a high-pass of SciPy."""
    path = os.path.join(os.path.dirname(scipy.__file__), "misc", "ecg.dat")
    if not os.path.exists(path):
        beside.skip(path)
        return
    with np.load(path) as kept:
        samples = (kept["ecg"].astype(int) - 1024) / 200.0
    close("DC of the recording, mV", samples.mean(), -0.16511, 1e-4)
    frequency, density = signal.welch(samples, 360, nperseg=3600)
    near = (frequency > 55) & (frequency < 65)
    with tempfile.TemporaryDirectory() as folder:
        name = beside.write_csv(os.path.join(folder, "heart.csv"), samples, 360, "%.3f", "mV")
        one = measure(name, "--mains", "60Hz", "--accuracy", "0%")[0]
    readings = one["readings"]
    close("RMS, mV", readings["ac_rms"]["value"] * 1e3, 0.5992, 0.002, 2e-4)
    close("DC, mV", readings["dc"]["value"] * 1e3, -0.16511, 0.01, 5e-6)
    claim(abs(frequency[near][np.argmax(density[near])] - 60) < 0.2, "SciPy sees the mains as well")
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
    check_heart()
    beside.end()


main()
