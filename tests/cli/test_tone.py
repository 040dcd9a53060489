"""gainwalk tone: every shape held against SciPy and closed forms; files that repeat, and orders that are refused."""

import json
import math
import os
import subprocess
import sys
import tempfile
import unittest

import numpy as np
from scipy import signal
from scipy.io import wavfile

PROGRAM = os.environ.get("GAINWALK")


def tone(folder, *words, status=0, name="out.wav"):
    """Runs the command in `folder`; what it said on standard error."""
    done = subprocess.run([PROGRAM, "tone", *words, name], cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode != status or done.stdout:
        raise AssertionError("%s: exit %d, expected %d\n%s%s" % (words, done.returncode, status, done.stdout, done.stderr))
    return done.stderr


def read(folder, name="out.wav"):
    """Rate and values, full scale 1, by SciPy's own reader."""
    rate, values = wavfile.read(os.path.join(folder, name))
    scale = {"int16": 2.0 ** 15, "int32": 2.0 ** 31, "float32": 1.0}[str(values.dtype)]  # SciPy: 24 bits left-justified
    return rate, values.astype(float) / scale


def rms(values):
    return math.sqrt(float(np.mean(np.square(values))))


def dbfs(values):
    """Level re a sine whose peak is full scale (AES17)."""
    return 20 * math.log10(rms(values) * math.sqrt(2))


def lines(values, rate, frequencies):
    """Amplitudes of sines at known frequencies, by least squares (numpy)."""
    t = np.arange(len(values)) / rate
    columns = [np.ones_like(t)]
    for frequency in frequencies:
        columns += [np.cos(2 * np.pi * frequency * t), np.sin(2 * np.pi * frequency * t)]
    fit = np.linalg.lstsq(np.stack(columns, axis=1), values, rcond=None)[0]
    return np.hypot(fit[1::2], fit[2::2])


class Tone(unittest.TestCase):
    def setUp(self):
        self.scratch = tempfile.TemporaryDirectory()
        self.folder = self.scratch.name

    def tearDown(self):
        self.scratch.cleanup()

    def make(self, *words):
        self.said = tone(self.folder, "--force", *words)
        return read(self.folder)

    def test_sine(self):
        rate, x = self.make("--length", "2s", "--fade", "0s")
        self.assertEqual((rate, x.shape), (48000, (96000,)))
        # 997 Hz is AES17's measuring frequency; -20 dBFS, of which the dither of 24 bits is no part worth naming
        self.assertAlmostEqual(dbfs(x), -20, delta=0.01)
        self.assertAlmostEqual(dbfs(x), -20, delta=1e-5)
        self.assertAlmostEqual(lines(x, rate, [997])[0], 0.1, delta=1e-7)
        spectrum = np.abs(np.fft.rfft(x * signal.windows.blackmanharris(len(x))))
        self.assertEqual(int(np.argmax(spectrum)), 2 * 997)
        self.assertIn("stimulus = sine 997 Hz", self.said)
        self.assertNotIn("divides", self.said)
        self.make("--length", "1s", "--frequency", "1kHz")
        self.assertIn("divides the sample rate", self.said)
        self.assertIn("997Hz", self.said)

    def test_volts(self):
        rate, x = self.make("--level", "100mV", "--full-scale", "1.95V", "--fade", "0s", "--bits", "float",
                            "--length", "1s")
        # full scale is the peak that the converter reaches: 100 mV RMS has a peak of 141.42 mV
        self.assertAlmostEqual(float(np.max(np.abs(x))), 0.1 * math.sqrt(2) / 1.95, delta=2e-5)
        self.assertAlmostEqual(rms(x), 0.1 / 1.95, delta=1e-7)
        self.assertIn("stimulus = sine 997 Hz 100 mV", self.said)
        _, y = self.make("--level", "282.8427mVpp", "--full-scale", "1.95V", "--fade", "0s", "--bits", "float",
                         "--length", "1s")
        self.assertAlmostEqual(rms(y), 0.1 / 1.95, delta=1e-6)
        _, y = self.make("--level", "4dBu", "--full-scale", "3V", "--fade", "0s", "--bits", "float", "--length", "1s")
        # +4 dBu is 1.2277 V (IEC 60268-15's line level; 0 dBu is 1 mW in 600 ohm)
        self.assertAlmostEqual(rms(y) * 3, 1.2277, delta=1e-4)

    def check_series(self, shape, frequency, orders):
        rate, x = self.make(shape, "--frequency", "%dHz" % frequency, "--fade", "0s", "--bits", "float", "--length", "1s",
                            "--level", "-10dBFS")
        self.assertAlmostEqual(dbfs(x), -10, delta=0.01)
        # Fourier: amplitudes go as 1/k
        found = lines(x[: rate // 5], rate, [k * frequency for k in orders])
        for k, amplitude in zip(orders, found):
            self.assertAlmostEqual(amplitude * k / found[0], 1, delta=1e-4)
        # band-limited: nothing folded down between the harmonics, nothing above the band
        spectrum = 2 * np.abs(np.fft.rfft(x)) / len(x)
        mask = np.ones(len(spectrum), bool)
        top = int(0.4535 * rate)
        mask[[k * frequency for k in orders if k * frequency <= top]] = False
        self.assertLess(20 * math.log10(float(np.max(spectrum[mask]))), -120)
        self.assertGreater(float(np.min(spectrum[[k * frequency for k in orders]])), 0)
        return x

    def test_saw(self):
        x = self.check_series("saw", 110, list(range(1, 198)))
        ideal = signal.sawtooth(2 * np.pi * 110 * np.arange(len(x)) / 48000, width=0)  # falling
        self.assertGreater(float(np.corrcoef(x, ideal)[0, 1]), 0.99)

    def test_square(self):
        x = self.check_series("square", 1000, list(range(1, 22, 2)))
        ideal = signal.square(2 * np.pi * (1000 * np.arange(len(x)) / 48000 + 1e-9))
        self.assertGreater(float(np.corrcoef(x, ideal)[0, 1]), 0.97)

    def test_two_tones(self):
        rate, x = self.make("two-tone", "--fade", "0s", "--length", "1s", "--bits", "float", "--level", "-10dBFS")
        low, high = lines(x, rate, [60, 7000])  # SMPTE RP 120
        self.assertAlmostEqual(low / high, 4, delta=1e-4)
        self.assertAlmostEqual(dbfs(x), -10, delta=1e-3)
        # peaks at full scale: 1.675 dB under a sine of the same peak
        tone(self.folder, "two-tone", "--force", "--level", "-1.68dBFS")
        tone(self.folder, "two-tone", "--force", "--level", "-1.66dBFS", status=2)
        rate, x = self.make("difference", "--fade", "0s", "--length", "1s", "--bits", "float")
        low, high = lines(x, rate, [19000, 20000])  # IEC 60268-3, difference frequency
        self.assertAlmostEqual(low / high, 1, delta=1e-4)
        rate, x = self.make("two-tone", "--frequency", "250Hz+8kHz", "--fade", "0s", "--length", "1s")
        low, high = lines(x, rate, [250, 8000])
        self.assertAlmostEqual(low / high, 4, delta=1e-3)

    def test_sweep(self):
        rate, x = self.make("sweep", "--length", "4s", "--frequency", "50Hz..12.8kHz", "--bits", "float", "--fade", "0s")
        # eight octaves in four seconds: two a second; SciPy's own exponential sweep, phase for phase
        t = np.arange(len(x)) / rate
        ideal = 0.1 * signal.chirp(t, 50, 4, 12800, method="logarithmic", phi=-90)
        self.assertLess(float(np.max(np.abs(x - ideal))), 1e-6)
        phase = np.unwrap(np.angle(signal.hilbert(x)))
        for second in (1, 2, 3):
            around = slice(int((second - 0.005) * rate), int((second + 0.005) * rate))
            found = float(np.mean(np.diff(phase[around]))) * rate / (2 * np.pi)
            self.assertAlmostEqual(found / (50 * 4 ** second), 1, delta=0.01)
        self.assertAlmostEqual(dbfs(x), -20, delta=0.05)

    def test_steps(self):
        rate, x = self.make("steps", "--steps", "4", "--step", "6dB", "--length", "4s", "--level", "-6dBFS", "--bits",
                            "float", "--fade", "0s")
        for i in range(4):
            part = x[int((i + 0.1) * rate):int((i + 0.9) * rate)]
            self.assertAlmostEqual(dbfs(part), -24 + 6 * i, delta=0.01)
        # changes of level where the sine is 0: no sample steps further than the loudest sine does
        self.assertLess(float(np.max(np.abs(np.diff(x)))), 10 ** (-6 / 20) * 2 * math.pi * 997 / rate)

    def test_white(self):
        rate, x = self.make("white", "--length", "20s", "--fade", "0s", "--bits", "float")
        self.assertAlmostEqual(dbfs(x), -20, delta=1e-4)
        self.assertAlmostEqual(float(np.mean(x)) / rms(x), 0, delta=4 / math.sqrt(len(x)))
        # normal: fourth moment 3, sixth 15 (Gaussian moments), within five standard errors
        z = x / rms(x)
        self.assertAlmostEqual(float(np.mean(z ** 4)), 3, delta=5 * math.sqrt(96 / len(x)))
        self.assertAlmostEqual(float(np.mean(z ** 6)), 15, delta=5 * math.sqrt(10170 / len(x)))
        f, p = signal.welch(x, rate, nperseg=4096)
        octaves = [10 * math.log10(float(np.mean(p[(f >= a) & (f < 2 * a)]))) for a in (100, 800, 6400)]
        self.assertLess(max(octaves) - min(octaves), 0.3)
        neighbours = float(np.corrcoef(x[1:], x[:-1])[0, 1])
        self.assertLess(abs(neighbours), 5 / math.sqrt(len(x)))

    def check_pink(self, rate, words):
        got, x = self.make("pink", "--length", "60s", "--fade", "0s", "--bits", "float", "--rate", "%dHz" % rate, *words)
        self.assertEqual(got, rate)
        self.assertAlmostEqual(dbfs(x), -20, delta=1e-4)
        f, p = signal.welch(x, rate, nperseg=1 << 15)
        edges = 31.25 * 2.0 ** np.arange(0, math.floor(math.log2(0.45 * rate / 31.25)) + 1)
        # the same power in every octave is -3.01 dB an octave in density; each octave counts its own bins
        powers, errors = [], []
        for low, high in zip(edges[:-1], edges[1:]):
            inside = (f >= low) & (f < high)
            want = float(np.sum(1 / f[inside]))
            powers.append(10 * math.log10(float(np.sum(p[inside])) / want))
            errors.append(4.34 / math.sqrt(1.5 * 60 * (high - low) / 1.5))
        slope, _ = np.polyfit(np.arange(len(powers)), powers, 1, w=1 / np.array(errors))
        self.assertLess(abs(slope), 0.03)  # of -3.01 dB an octave
        for power, error in zip(powers, errors):
            self.assertAlmostEqual(power, float(np.average(powers, weights=1 / np.square(errors))), delta=0.03 + 4 * error)
        top = f >= 0.25 * rate
        top &= f <= 0.45 * rate
        middle = (f >= 0.02 * rate) & (f <= 0.1 * rate)
        ratio = float(np.mean((p * f)[top])) / float(np.mean((p * f)[middle]))
        self.assertAlmostEqual(10 * math.log10(ratio), 0, delta=0.1)

    def test_pink(self):
        self.check_pink(48000, ())
        self.check_pink(96000, ("--seed", "7"))

    def test_silence_and_dither(self):
        rate, x = self.make("silence", "--bits", "16", "--length", "10s")
        codes = np.rint(x * 2 ** 15).astype(int)
        self.assertEqual(set(codes), {-1, 0, 1})
        # TPDF of two steps, rounded: +-1 with probability 1/8 each; total error variance (2 + 1)/12 of a step squared
        # (Lipshitz, Wannamaker & Vanderkooy 1992)
        self.assertAlmostEqual(float(np.mean(codes == 1)), 0.125, delta=0.003)
        self.assertAlmostEqual(float(np.mean(codes == -1)), 0.125, delta=0.003)
        self.assertAlmostEqual(float(np.mean(np.square(codes))), 0.25, delta=0.004)
        _, x = self.make("silence", "--bits", "16", "--dither", "none")
        self.assertEqual(float(np.max(np.abs(x))), 0)

    def test_dither_frees_of_distortion(self):
        words = ("--frequency", "1kHz", "--level", "-80dBFS", "--bits", "16", "--fade", "0s", "--length", "8s")
        rate, dithered = self.make(*words)
        _, plain = self.make(*words, "--dither", "none")
        _, exact = self.make("--frequency", "1kHz", "--level", "-80dBFS", "--bits", "float", "--fade", "0s", "--length", "8s")
        orders = [1000 * k for k in range(2, 12)]
        one = lines(dithered[:rate], rate, orders), lines(plain[:rate], rate, orders)
        self.assertGreater(float(np.max(one[1])), 4e-6)  # rounded alone: harmonics of a tenth of a step
        self.assertLess(float(np.max(lines(dithered, rate, orders))), 6e-7)
        error = (dithered - exact) * 2 ** 15
        self.assertAlmostEqual(float(np.mean(error ** 2)), 0.25, delta=0.005)
        # no noise modulation: the error's power is the same near the crest and near zero
        crest = np.abs(exact) > 0.8 * np.max(exact)
        zero = np.abs(exact) < 0.2 * np.max(exact)
        self.assertAlmostEqual(float(np.mean(error[crest] ** 2) / np.mean(error[zero] ** 2)), 1, delta=0.05)
        self.assertLess(abs(float(np.mean(error))), 0.005)

    def test_full_scale(self):
        for bits in ("16", "24", "float"):
            _, x = self.make("--level", "0dBFS", "--bits", bits, "--fade", "0s", "--length", "1s")
            self.assertAlmostEqual(dbfs(x), 0, delta=0.001)
        for words in (["--level", "0.01dBFS"], ["square", "--level", "2dBFS"], ["pink", "--level", "-3dBFS"],
                      ["--level", "2V", "--full-scale", "1.95V"]):
            said = tone(self.folder, *words, status=2, name="no.wav")
            self.assertIn("highest level", said)
            self.assertFalse(os.path.exists(os.path.join(self.folder, "no.wav")))
            if "V" in words[-1]:
                continue
            # what it names as the highest does fit
            highest = said.split("signal is ")[1].split(" dBFS")[0]
            tone(self.folder, *words[:-1], highest + "dBFS", "--force")
            _, x = read(self.folder)
            self.assertLess(float(np.max(np.abs(x))), 1 + 1e-6)

    def test_fade_channels_rate(self):
        rate, x = self.make("--channels", "3", "--rate", "44.1kHz", "--length", "0.5s", "--fade", "100ms", "--bits", "16",
                            "--level", "-3dBFS")
        self.assertEqual((rate, x.shape), (44100, (22050, 3)))
        exact = 10 ** (-3 / 20) * np.sin(2 * np.pi * 997 * np.arange(22050) / 44100)
        edge = np.minimum(np.arange(22050), np.arange(22050)[::-1]) / 4410
        exact *= np.where(edge < 1, 0.5 - 0.5 * np.cos(np.pi * np.minimum(edge, 1)), 1)
        for channel in range(3):
            self.assertLess(float(np.max(np.abs(x[:, channel] - exact))), 1.6 / 2 ** 15)
        self.assertFalse(np.array_equal(x[:, 0], x[:, 1]))  # a dither of its own for each channel

    def test_same_bytes(self):
        def contents(name):
            with open(os.path.join(self.folder, name), "rb") as file:
                return file.read()
        for words in (["sine"], ["pink", "--seed", "5"], ["white"], ["saw", "--bits", "16"], ["sweep", "--bits", "float"]):
            words = words + ["--length", "0.3s", "--force"]
            tone(self.folder, *words, name="one.wav")
            tone(self.folder, *words, name="two.wav")
            self.assertEqual(contents("one.wav"), contents("two.wav"))
        tone(self.folder, "pink", "--seed", "6", "--length", "0.3s", "--force", name="three.wav")
        tone(self.folder, "pink", "--seed", "5", "--length", "0.3s", "--force", name="one.wav")
        self.assertNotEqual(contents("one.wav"), contents("three.wav"))
        done = subprocess.run([PROGRAM, "tone", "pink", "--seed", "5", "--length", "0.3s", "-"], capture_output=True,
                              check=False)
        self.assertEqual((done.returncode, done.stdout), (0, contents("one.wav")))

    def test_never_overwrites(self):
        tone(self.folder, "--length", "0.1s")
        with open(os.path.join(self.folder, "out.wav"), "rb") as file:
            before = file.read()
        self.assertIn("exists already", tone(self.folder, "--length", "0.2s", status=2))
        with open(os.path.join(self.folder, "out.wav"), "rb") as file:
            self.assertEqual(file.read(), before)
        tone(self.folder, "--length", "0.2s", "--force")
        self.assertEqual(os.listdir(self.folder), ["out.wav"])
        tone(self.folder, "--length", "0.1s", name="nowhere/out.wav", status=2)

    def measured(self, *words):
        """The program's own readings of a test signal at a full scale of 2 V, with the stimulus that `tone` names."""
        self.make(*words, "--fade", "0s", "--length", "1s")
        stimulus = self.said.split("stimulus = ")[1].strip()
        done = subprocess.run([PROGRAM, "measure", "--json", "--full-scale", "2V", "--stimulus", stimulus, "out.wav"],
                              cwd=self.folder, capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        capture = json.loads(done.stdout)["captures"][0]
        return capture["signal"], capture["readings"]

    def test_measured(self):
        level = 0.2 / math.sqrt(2)  # -20 dBFS of 2 V
        for words, kind, frequency in ((["sine"], "sine", 997), (["saw"], "periodic", 110), (["square"], "periodic", 1000),
                                       (["two-tone"], "two-tone", 60), (["difference"], "two-tone", 19000)):
            signal_kind, readings = self.measured(*words)
            self.assertEqual(signal_kind, kind, words)
            self.assertAlmostEqual(readings["frequency"]["value"] / frequency, 1, delta=1e-5)
            self.assertAlmostEqual(readings["ac_rms"]["value"] / level, 1, delta=1e-3)
            # of a saw's 1/k harmonics the program takes a comb of limited order: a per cent of the power is beyond it
            self.assertAlmostEqual(readings["level"]["value"] / level, 1, delta=6e-3 if words == ["saw"] else 1e-3)
        for words, kind in ((["white"], "noise"), (["silence"], "none")):
            self.assertEqual(self.measured(*words)[0], kind, words)
        _, readings = self.measured("white")
        self.assertAlmostEqual(readings["ac_rms"]["value"] / level, 1, delta=1e-3)
        # 24 bits with TPDF dither: two uniform steps and the rounding, 3/12 of a step squared (Lipshitz, Wannamaker &
        # Vanderkooy 1992); `noise` leaves the rounding's 1/12 to the capture, and counts 20 Hz to 20 kHz of 24 kHz
        _, readings = self.measured("sine")
        noise = 2 / 2 ** 23 * math.sqrt(2 / 12 * 20000 / 24000)
        self.assertAlmostEqual(readings["noise"]["value"] / noise, 1, delta=0.05)

    def test_refused(self):
        cases = [
            (["sina"], "did you mean 'sine'"), (["--frequency", "24kHz"], "not below"), (["--frequency", "0Hz"], "frequency"),
            (["--frequency", "-5Hz"], "frequency"), (["saw", "--frequency", "22kHz"], "not below"),
            (["sweep", "--frequency", "20kHz..20Hz"], "sweep upwards"), (["sweep", "--frequency", "1kHz"], "sweep upwards"),
            (["two-tone", "--frequency", "60Hz"], "two rising"), (["pink", "--frequency", "1kHz"], "no frequency"),
            (["--level", "100mV"], "--full-scale"), (["--level", "loud"], "not a level"), (["--level", "nandBFS"], "not a level"),
            (["square", "--level", "1Vpp", "--full-scale", "2V"], "RMS"), (["--length", "0s"], "length"),
            (["--length", "9000s"], "too long"), (["--length", "10ms", "--fade", "6ms"], "fades"), (["--bits", "12"], "16, 24"),
            (["--dither", "some"], "tpdf or none"), (["--channels", "0"], "channels"), (["--channels", "1.5"], "channels"),
            (["--channels", "17"], "channels"), (["--seed", "-1"], "whole"), (["--seed", "x"], "whole"),
            (["--rate", "48000.5Hz"], "whole"), (["--rate", "10Hz"], "rate"), (["--steps", "5"], "shape 'steps'"),
            (["steps", "--steps", "1"], "steps"), (["steps", "--step", "0dB"], "step"),
            (["steps", "--steps", "90", "--length", "0.02s", "--fade", "0s"], "too short"), (["--levle", "1V"], "--level"),
            (["sine", "one.wav"], "more than"),
        ]
        for words, expected in cases:
            said = tone(self.folder, *words, status=2, name="no.wav")
            self.assertIn(expected, said, words)
            self.assertTrue(said.startswith("gainwalk: ") and said.count("\n") == 1, said)
        for words in ([], ["sine"]):
            done = subprocess.run([PROGRAM, "tone"] + words, cwd=self.folder, capture_output=True, text=True, check=False)
            self.assertEqual((done.returncode, done.stderr.count("no file")), (2, 1))
        self.assertEqual(os.listdir(self.folder), [])


if __name__ == "__main__":
    if not PROGRAM:
        sys.exit("the program was not built")
    unittest.main()
