"""Captures of all that a bench sees: each made from closed forms, with what is known of it for certain.

A shape is called with a generator of random numbers and gives a Shape. Its truths are those of the drawing: levels of a sine
are its fundamental's, A/sqrt 2; of a comb that of all its lines. Volts; 1 V is FULL of a WAV file's scale."""

import dataclasses

import numpy as np
from scipy import signal

FULL = 0.45
END = (1 - 2.0**-30) / FULL  # of the converter


@dataclasses.dataclass
class Shape:
    samples: np.ndarray  # volts, one column a channel
    rate: int
    truth: dict = dataclasses.field(default_factory=dict)
    options: tuple = ()
    step: float = 0.0  # a CSV file of such steps; 0: a WAV file


SHAPES = {}


def shape(make):
    SHAPES[make.__name__.replace("_", " ")] = make
    return make


def turns(cycles, count, random):
    """Angle over a record, radians, from a random phase on."""
    return 2 * np.pi * (cycles * np.arange(count) / count + random.random())


def hiss(random, count, rms):
    return rms * random.standard_normal(count)


def tone(random, cycles, count=2000, rate=100000, noise=1e-3):
    angle = turns(cycles, count, random)
    return angle, hiss(random, count, noise), {"frequency": cycles * rate / count}


PARTS = 32  # of a sample that a front end takes the mean over


def averaged(make, turn, width):
    """A function of the angle, each value its mean over so many turns around."""
    parts = (np.arange(PARTS) + 0.5) / PARTS - 0.5
    return make(2 * np.pi * ((np.asarray(turn)[:, None] + width * parts) % 1)).mean(axis=1)


def periodic(random, make, cycles, count=2000, rate=100000, noise=1e-3, **more):
    """A function of the angle, averaged over each sample as an ideal front end does. Its RMS is the mean over a turn."""
    width = cycles / count
    samples = averaged(make, width * np.arange(count) + random.random(), width)
    whole_turn = averaged(make, (np.arange(1 << 14) + 0.5) / (1 << 14), width)
    truth = {"frequency": width * rate, "ac_rms": np.std(whole_turn)}
    if more.pop("whole", False):
        truth["dc"] = np.mean(whole_turn)
    return Shape(samples + hiss(random, count, noise), rate, truth, **more)


# ---- bent ---------------------------------------------------------------------------------------------------------------


@shape
def clipped_both(random):
    return periodic(random, lambda a: np.clip(1.4 * np.sin(a), -1, 1), 12.3)


@shape
def clipped_above(random):
    return periodic(random, lambda a: np.minimum(np.sin(a), 0.6), 7.3)


@shape
def clipped_below_in_codes(random):
    return periodic(random, lambda a: np.maximum(np.sin(a), -0.75), 5.4, step=0.02)


@shape
def clipped_in_the_recorder(random):
    angle, noise, truth = tone(random, 40.3, 9600, 48000, 1e-5)
    volts = np.clip(1.3 / FULL * np.sin(angle) + noise, -END, END)
    return Shape(volts, 48000, truth)


@shape
def soft(random):
    return periodic(random, lambda a: np.tanh(1.5 * np.sin(a)), 14.2)


@shape
def bent_cubic(random):
    """x - x^3/10 of a sine: third harmonic A/40 of 37/40 A, each by what a mean over a sample leaves of it."""
    made = periodic(random, lambda a: np.sin(a) - 0.1 * np.sin(a) ** 3, 30.3, noise=1e-4)
    made.truth.update(thd=1 / 37 * np.sinc(3 * 30.3 / 2000) / np.sinc(30.3 / 2000))
    return made


@shape
def flat_at_zero(random):
    return periodic(random, lambda a: np.sign(np.sin(a)) * np.maximum(np.abs(np.sin(a)) - 0.15, 0), 9.3)


@shape
def flat_at_zero_in_codes(random):
    return periodic(random, lambda a: np.sign(np.sin(a)) * np.maximum(np.abs(np.sin(a)) - 0.2, 0), 4.3, step=0.02)


@shape
def slew_limited(random):
    """A sine whose steepest parts are straight."""
    return periodic(random, lambda a: np.clip(1.25 * np.arcsin(np.sin(a)) / np.pi * 2, -1, 1)
                    * (1 - 0.12 * np.cos(a) ** 2), 8.6)


@shape
def triangle_few(random):
    return periodic(random, lambda a: np.arcsin(np.sin(a)), 3.3)


@shape
def triangle_many(random):
    return periodic(random, lambda a: np.arcsin(np.sin(a)), 33.7, 6000)


@shape
def saw_of_strings(random):
    return periodic(random, lambda a: a / np.pi - 1, 21.3, 4800, 48000)


@shape
def saw_behind_a_low_pass(random):
    made = periodic(random, lambda a: a / np.pi - 1, 21.3, 4800, 48000)
    made.samples = signal.lfilter(*signal.butter(1, 0.05), made.samples)
    del made.truth["ac_rms"]
    return made


@shape
def square(random):
    return periodic(random, lambda a: np.where(a < np.pi, 1.0, -1.0), 9.7)


@shape
def square_few(random):
    return periodic(random, lambda a: np.where(a < np.pi, 1.0, -1.0), 2.6, step=0.02)


@shape
def square_of_two_codes(random):
    """A converter's two codes and no noise: 1 and -1 V, to a hundredth."""
    volts = np.where((6.3 * np.arange(2000) / 2000 + random.random()) % 1 < 0.4, 1.0, -1.0)
    return Shape(volts, 100000, {"frequency": 315, "dc": -0.2, "ac_rms": np.sqrt(0.96)}, step=0.01)


@shape
def square_tilted(random):
    made = periodic(random, lambda a: np.where(a < np.pi, 1.0, -1.0), 12.2)
    made.samples = signal.lfilter(*signal.butter(1, 0.004, "high"), made.samples)
    return Shape(made.samples, made.rate, {"frequency": made.truth["frequency"]})


@shape
def square_that_rings(random):
    made = periodic(random, lambda a: np.where(a < np.pi, 1.0, -1.0), 6.2)
    b, a = signal.iirpeak(0.15, 3)
    made.samples = made.samples + signal.lfilter(b, a, made.samples)
    return Shape(made.samples, made.rate, {"frequency": made.truth["frequency"]})


@shape
def narrow_pulse(random):
    return periodic(random, lambda a: np.where(a < 0.06 * np.pi, 1.0, 0.0), 15.3, 3000, whole=True)


@shape
def pulse_of_a_third(random):
    return periodic(random, lambda a: np.where(a < 0.66 * np.pi, 1.0, 0.0), 5.3, step=0.01)


@shape
def half_wave(random):
    return periodic(random, lambda a: np.maximum(np.sin(a), 0), 11.4, whole=True)


@shape
def full_wave(random):
    """|sin|: twice the frequency, 2/pi of DC."""
    return periodic(random, lambda a: np.abs(np.sin(a / 2)), 13.4, whole=True)


@shape
def missing_fundamental(random):
    return periodic(random, lambda a: sum(np.sin(k * a + k) for k in range(2, 7)) / 3, 10.3)


@shape
def octave_stronger(random):
    return periodic(random, lambda a: 0.1 * np.sin(a) + np.sin(2 * a + 1), 12.3)


# ---- what comes and goes ------------------------------------------------------------------------------------------------


@shape
def a_cut(random):
    angle, noise, truth = tone(random, 20.3)
    volts = np.sin(angle)
    volts[820:990] = 0
    return Shape(volts + noise, 100000, {**truth, "dropouts": 1})


@shape
def three_cuts_in_codes(random):
    angle, noise, truth = tone(random, 50.3, 5000, noise=5e-3)
    volts = np.sin(angle)
    for start in (700, 2100, 3900):
        volts[start : start + 300] *= 0.05
    return Shape(volts + noise, 100000, {**truth, "dropouts": 3}, step=0.02)


@shape
def a_cut_in_a_saw(random):
    made = periodic(random, lambda a: a / np.pi - 1, 30.2, 4800, 48000)
    made.samples[2000:2600] *= 0.02
    return Shape(made.samples, 48000, {"frequency": made.truth["frequency"], "dropouts": 1})


@shape
def a_weak_stretch(random):
    angle, noise, truth = tone(random, 60.3, 9600, 48000)
    volts = np.sin(angle)
    volts[4000:6000] *= 0.4
    return Shape(volts + noise, 48000, truth)


@shape
def crackle_in_a_sine(random):
    angle, noise, truth = tone(random, 15.3)
    volts = np.sin(angle) + noise
    for at in (300, 777, 1500):
        volts[at : at + 6] += 0.8 * np.exp(-np.arange(6) / 2)
    return Shape(volts, 100000, truth)


@shape
def crackle_in_a_saw(random):
    made = periodic(random, lambda a: a / np.pi - 1, 12.2, 4800, 48000)
    for at in (1000, 3111):
        made.samples[at : at + 3] += 1.5
    return Shape(made.samples, 48000, {"frequency": made.truth["frequency"]})


@shape
def crackle_in_noise(random):
    volts = hiss(random, 4800, 0.01)
    for at in (900, 2500, 4000):
        volts[at : at + 20] += 0.3 * np.exp(-np.arange(20) / 5)
    return Shape(volts, 48000)


@shape
def a_step(random):
    angle, noise, truth = tone(random, 14.3)
    return Shape(np.sin(angle) + noise + np.where(np.arange(2000) < 1200, 0, 0.5), 100000, truth)


@shape
def steps_of_no_signal(random):
    return Shape(hiss(random, 3000, 2e-3) + np.where(np.arange(3000) < 800, 0, 0.3) - np.where(np.arange(3000) < 2100, 0, 0.2),
                 100000)


@shape
def settling(random):
    angle, noise, truth = tone(random, 25.3)
    return Shape(np.sin(angle) + noise + np.exp(-np.arange(2000) / 600), 100000, truth)


@shape
def drifting(random):
    angle, noise, truth = tone(random, 8.3)
    return Shape(np.sin(angle) + noise + 0.2 * np.arange(2000) / 2000, 100000, {**truth, "drift": 10, "level": np.sqrt(0.5)})


@shape
def drifting_without_a_signal(random):
    return Shape(hiss(random, 2000, 3e-3) + 0.1 * np.arange(2000) / 2000, 100000, {"drift": 5, "dc": 0.05})


@shape
def fading_in(random):
    angle, noise, truth = tone(random, 200.3, 9600, 48000)
    return Shape(np.sin(angle) * np.linspace(0.2, 1, 9600) + noise, 48000, truth)


@shape
def tremolo(random):
    angle, noise, _ = tone(random, 440.3, 48000, 48000)
    return Shape(np.sin(angle) * (1 + 0.4 * np.sin(angle / 88)) / 1.4 + noise, 48000)


@shape
def plucked(random):
    angle, noise, _ = tone(random, 220.3, 48000, 48000)
    volts = sum(np.sin(k * angle) / k * np.exp(-np.arange(48000) * k / 20000) for k in range(1, 9)) / 2
    return Shape(volts + noise, 48000)


@shape
def wow(random):
    angle, noise, _ = tone(random, 1000.3, 48000, 48000)
    return Shape(np.sin(angle + 2 * np.sin(angle / 250)) + noise, 48000)


@shape
def a_burst(random):
    angle, noise, _ = tone(random, 100.3, 9600, 48000)
    return Shape(np.where((np.arange(9600) > 3000) & (np.arange(9600) < 6000), np.sin(angle), 0) + noise, 48000)


# ---- beside the signal --------------------------------------------------------------------------------------------------


def with_hum(random, hertz, stimulus, mains=50.0, peak=0.1, count=9600, rate=48000, **more):
    when = np.arange(count) / rate
    volts = np.sin(2 * np.pi * (hertz * when + random.random())) if hertz else 0
    hum = peak * np.sin(2 * np.pi * (mains * when + random.random())) + peak / 2 * np.sin(4 * np.pi * mains * when + 1)
    options = ("--stimulus", stimulus) if stimulus else ()
    truth = {"hum": peak * np.sqrt(5 / 8)}
    if hertz:
        truth.update(level=np.sqrt(0.5), frequency=hertz)
    return Shape(volts + hum + hiss(random, count, 1e-3), rate, truth, options, **more)


@shape
def hum_beside_a_sine(random):
    return with_hum(random, 997.0, "sine 997Hz")


@shape
def hum_of_sixty(random):
    return with_hum(random, 440.0, "", mains=60.02)


@shape
def hum_above_the_sine(random):
    made = with_hum(random, 440.0, "sine 440Hz", peak=2.0)
    made.samples, made.truth["level"], made.truth["hum"] = made.samples / 2, np.sqrt(0.125), np.sqrt(5 / 8)
    return made


@shape
def hum_in_codes(random):
    return with_hum(random, 1234.5, "sine 1234Hz", count=2500, rate=25000, step=0.02)


@shape
def hum_alone(random):
    return with_hum(random, 0, "")


@shape
def hum_in_part(random):
    made = with_hum(random, 2000.0, "sine 2kHz", count=2000, rate=200000)
    del made.truth["hum"]
    return made


@shape
def a_whistle(random):
    angle, noise, truth = tone(random, 12.3, 2500, 500000, 2e-3)
    return Shape(np.sin(angle) + 0.1 * np.sin(angle * 31.7) + noise, 500000, truth)


@shape
def two_tones_near(random):
    """19 and 20 kHz, a difference tone of 1 % of one of them."""
    when = np.arange(19200) / 192000
    volts = 0.5 * np.sin(2 * np.pi * 19000 * when) + 0.5 * np.sin(2 * np.pi * 20000 * when + 1)
    volts += 0.005 * np.sin(2 * np.pi * 1000 * when + 2)
    return Shape(volts + hiss(random, 19200, 1e-4), 192000, {}, ("--stimulus", "two-tone 19kHz 20kHz"))


@shape
def two_tones_far(random):
    when = np.arange(19200) / 96000
    volts = 0.8 * np.sin(2 * np.pi * 60 * when) + 0.2 * np.sin(2 * np.pi * 7000 * when + 1)
    return Shape(volts + 0.02 * volts**2 + hiss(random, 19200, 1e-4), 96000, {}, ("--stimulus", "two-tone 60Hz 7kHz"))


@shape
def noise_behind_a_low_pass(random):
    return Shape(signal.lfilter(*signal.butter(2, 0.1), hiss(random, 20000, 0.3))[-9600:], 48000)


@shape
def noise_in_few_codes(random):
    return Shape(hiss(random, 3000, 0.02), 100000, {"noise": 0.02 * np.sqrt(20 / 50)}, step=0.02)


@shape
def a_flat_line(random):
    return Shape(np.full(2000, 0.5) + 0 * random.random(), 100000, {"dc": 0.5}, step=0.02)


@shape
def a_line_between_two_codes(random):
    return Shape(0.51 + hiss(random, 2000, 0.004), 100000, {"dc": 0.51}, step=0.02)


@shape
def half_a_cycle(random):
    angle, noise, _ = tone(random, 0.6)
    return Shape(np.sin(angle) + noise, 100000)


@shape
def a_cycle_and_a_bit(random):
    angle, noise, truth = tone(random, 1.3)
    return Shape(np.sin(angle) + noise, 100000, {**truth, "level": np.sqrt(0.5)}, ("--stimulus", "sine 65Hz"))


@shape
def few_samples(random):
    angle, noise, truth = tone(random, 2.7, 40)
    return Shape(np.sin(angle) + noise, 100000, {**truth, "level": np.sqrt(0.5)})


@shape
def near_half_the_rate(random):
    angle, noise, truth = tone(random, 931.3)
    return Shape(np.sin(angle) + noise, 100000, {**truth, "level": np.sqrt(0.5)})


@shape
def ten_codes(random):
    angle, noise, truth = tone(random, 6.3)
    return Shape(np.sin(angle) + noise, 100000, {**truth, "level": np.sqrt(0.5)}, step=0.2)


# ---- long ---------------------------------------------------------------------------------------------------------------


@shape
def long_with_a_cut(random):
    angle, noise, truth = tone(random, 40 * 997.0, 40 * 8000, 8000)
    volts = np.sin(angle)
    volts[200000:206000] *= 0.01
    return Shape(volts + noise, 8000, {**truth, "dropouts": 1})


@shape
def long_whose_hum_comes(random):
    angle, noise, truth = tone(random, 30 * 440.0, 30 * 8000, 8000)
    hum = np.where(np.arange(240000) > 120000, 0.2 * np.sin(angle * 50 / 440), 0)
    return Shape(np.sin(angle) + hum + noise, 8000, truth, ("--stimulus", "sine 440Hz"))


@shape
def long_noise(random):
    volts = hiss(random, 30 * 8000, 0.05) * np.where(np.arange(240000) < 100000, 1, 2)
    return Shape(volts, 8000)


@shape
def long_saw(random):
    when = np.arange(20 * 8000) / 8000
    volts = sum(np.sin(2 * np.pi * k * (110.3 * when + 0.2)) / k for k in range(1, 36)) / 2
    return Shape(volts + hiss(random, len(when), 1e-3), 8000, {"frequency": 110.3})


# ---- two channels -------------------------------------------------------------------------------------------------------


def beside(one, other, rate, **truth):
    return Shape(np.column_stack([one, other]), rate, truth, ("--reference", "1"))


@shape
def a_stage_with_a_sine(random):
    angle, noise, _ = tone(random, 31.3)
    return beside(0.2 * np.sin(angle) + noise / 10, -0.8 * np.sin(angle - 0.2) + noise[::-1], 100000)


@shape
def a_stage_with_a_programme(random):
    volts = signal.lfilter(*signal.butter(1, 0.2), hiss(random, 20000, 0.3))
    return beside(volts[4:-396], 0.5 * volts[:-400] + hiss(random, 19600, 0.003), 48000)


@shape
def a_stage_that_filters(random):
    volts = hiss(random, 48000, 0.2)
    return beside(volts, signal.lfilter(*signal.butter(1, 0.3), volts) + hiss(random, 48000, 0.02), 48000)


@shape
def nothing_in_common(random):
    return beside(hiss(random, 9600, 0.2), hiss(random, 9600, 0.1), 48000)
