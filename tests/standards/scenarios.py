"""What u95 is tried on: kinds of captures as technicians make them, each a function that draws one record."""

import numpy as np

from truths import PINK_LONGER, Colour, Line, Record

N = 1000


def sine(random, cycles, decibels, third=0.0, count=N, hertz=1000):
    """A sine of 1 V peak near `hertz`, and how much noise."""
    cycles = cycles * (1 + 0.02 * (random.random() - 0.5))
    record = Record(rate=int(round(hertz * count / cycles)), count=count, dc=0.3 + 0.1 * random.random())
    record.white = np.sqrt(0.5) * 10 ** (-decibels / 20)
    record.lines = [Line("signal", cycles, 1, 1.0, random.random())]
    if third:
        record.lines.append(Line("signal", cycles, 3, third, random.random()))
    return record


def coarse(random, cycles, codes, decibels):
    record = sine(random, cycles, decibels)
    record.step = 2.0 / codes
    return record


def hum(random, mains_cycles, decibels, fifty, hundred=0.0, mains=50, signal_hz=1000):
    """A sine above hum, so many cycles of the mains long; the program is not told which mains."""
    count = 1500
    rate = int(round(mains * count / mains_cycles))
    record = sine(random, signal_hz * count / rate, decibels, count=count, hertz=signal_hz)
    record.rate = rate
    cycles = mains * (1 + 0.004 * (random.random() - 0.5)) * count / rate
    record.lines.append(Line("mains", cycles, 1, fifty, random.random()))
    if hundred:
        record.lines.append(Line("mains", cycles, 2, hundred, random.random()))
    return record


def drift(random, cycles, decibels, least, most, hertz=1000):
    record = sine(random, cycles, decibels, hertz=hertz)
    record.slope = random.uniform(least, most) * random.choice([-1, 1])
    return record


def saw(random, cycles, decibels, count=2000):
    """Twenty harmonics, or all below half the rate."""
    cycles = cycles * (1 + 0.02 * (random.random() - 0.5))
    record = Record(rate=int(round(1000 * count / cycles)), count=count, dc=0.1 * random.random())
    start = random.random()
    orders = np.arange(1, min(int(0.49 * count / cycles), 20) + 1)
    record.lines = [Line("signal", cycles, int(k), 2 / np.pi / k, k * start % 1) for k in orders]
    record.white = 10 ** (-decibels / 20) * np.sqrt(sum(line.peak**2 for line in record.lines) / 2)
    return record


def two_tones(random, decibels):
    record = sine(random, random.uniform(15, 60), decibels, count=2000)
    record.lines.append(Line("second", record.lines[0].cycles * random.uniform(1.2, 1.8), 1, 0.8, random.random()))
    return record


def stray(random, cycles, decibels, peak):
    record = sine(random, cycles, decibels)
    record.lines.append(Line("stray", cycles * random.uniform(3.3, 3.7) + 3, 1, peak, random.random()))
    return record


def pink_sine(random, cycles, decibels, count=N):
    """Noise so far below the sine between one cycle a record and half the rate."""
    record = sine(random, cycles, 300, count=count)
    record.white = 0.0
    record.pink = 0.5 * 10 ** (-decibels / 10) / np.log(count / 2)
    return record


def noise(random, pink, count, rate):
    """0.1 V of noise alone, with 0.001 V of white noise of the instrument's."""
    record = Record(rate=rate, count=count, dc=0.02 * random.random())
    record.white = 0.001 if pink else 0.1
    record.pink = 0.01 / np.log(count / 2) if pink else 0.0
    return record


def of_density(density):
    """Noise drawn from a density by frequencies in cycles a sample; nothing at 0."""

    def draw(random, count):
        longer = PINK_LONGER * count
        frequencies = np.fft.rfftfreq(longer)
        parts = random.normal(size=(2, len(frequencies)))
        size = np.zeros(len(frequencies))
        size[1:] = np.sqrt(density(frequencies[1:]) * longer / 4)
        return np.fft.irfft(size * (parts[0] + 1j * parts[1]), longer)[:count]

    return Colour(draw, density)


def popcorn(rms, changes):
    """A random telegraph: up or down, so many changes a sample. Machlup, "Noise in semiconductors: spectrum of a
    two-parameter random signal", J. Appl. Phys. 25 (1954): its density is Lorentz's."""

    def draw(random, count):
        turned = np.cumsum(random.random(count) < changes) % 2
        return rms * random.choice([-1, 1]) * (1 - 2 * turned)

    return Colour(draw, lambda f: 2 * rms**2 * changes / (changes**2 + (np.pi * f) ** 2))


def coloured(colour, count, codes=0, rate=48000):
    """Noise of 0.1 V or so alone, with 0.001 V of white noise of the instrument's; in so many codes."""
    record = Record(rate=rate, count=count, colour=colour, white=0.001)
    record.step = 0.6 / codes if codes else 0.0
    return record


def power_law(slope, count):
    """0.1 V between one cycle a record and half the rate, the density falling with this power of frequency."""
    frequencies = np.arange(1, count // 2) / count
    return of_density(lambda f: 0.01 * count / np.sum(frequencies**-slope) * f**-slope)


def band_noise(low, high):
    return of_density(lambda f: np.where((f > low) & (f < high), 0.01 / (high - low), 0))


# name: (what the record holds, how it is drawn, noise dominates, options)
SCENARIOS = {}


def add(name, kind, make, noisy=True, **more):
    SCENARIOS[name] = dict(kind=kind, make=make, noisy=noisy, **more)


for db in (20, 40, 60, 80, 100):
    for c in (1.55, 2.3, 5.2, 12.4, 31.7, 100.3):
        add("sine-%ddB-%gcyc" % (db, c), "sine", lambda r, c=c, db=db: sine(r, c, db))
for c in (2.3, 5.2, 12.4, 31.7):
    add("third-50dB-%gcyc" % c, "sine", lambda r, c=c: sine(r, c, 50, third=0.1))
for k in (20, 200):
    for c in (2.3, 5.2, 31.7):
        add("codes%d-%gcyc" % (k, c), "sine", lambda r, c=c, k=k: coarse(r, c, k, 70), noisy=False)
for m in (0.115, 0.3, 0.6, 0.95, 1.5, 1.9):
    for size in (0.01, 0.1):
        add("hum%g-%gmains" % (100 * size, m), "sine", lambda r, m=m, a=size: hum(r, m, 50, a), hidden=True)
    add("hum10+5-%gmains" % m, "sine", lambda r, m=m: hum(r, m, 50, 0.1, 0.05), hidden=True)
for m in (0.115, 0.6, 1.5):
    add("hum10+5-%gmains-60Hz" % m, "sine", lambda r, m=m: hum(r, m, 50, 0.1, 0.05, 60), hidden=True)
for m in (2.1, 2.5, 3.3, 5.0, 12.0):
    add("hum10+5-%gmains" % m, "sine", lambda r, m=m: hum(r, m, 50, 0.1, 0.05))
add("hum10+5-2.5mains-60Hz", "sine", lambda r: hum(r, 2.5, 50, 0.1, 0.05, 60))
add("hum1-2.5mains", "sine", lambda r: hum(r, 2.5, 50, 0.01))
add("hum10-0.115mains-third", "sine", lambda r: hum_third(r), hidden=True)
for c in (2.3, 5.2, 31.7):
    add("drift5-30-%gcyc" % c, "sine", lambda r, c=c: drift(r, c, 50, 0.05, 0.3), hidden=True)
add("drift5-30-230Hz", "sine", lambda r: drift(r, 5.2, 50, 0.05, 0.3, hertz=230), hidden=True)
for c in (2.3, 5.2, 23.7):
    add("saw-80dB-%gcyc" % c, "periodic", lambda r, c=c: saw(r, c, 80))
add("saw-40dB-23.7cyc", "periodic", lambda r: saw(r, 23.7, 40))
for db in (40, 80):
    add("two-tones-%ddB" % db, "two-tone", lambda r, db=db: two_tones(r, db))
for db in (20, 40):
    for c in (2.3, 12.4, 31.7):
        add("pink-sine-%ddB-%gcyc" % (db, c), "sine", lambda r, c=c, db=db: pink_sine(r, c, db))
for c in (12.4, 31.7):
    add("stray-80dB-%gcyc" % c, "sine", lambda r, c=c: stray(r, c, 80, 0.01))
add("stray-60dB-5.2cyc", "sine", lambda r: stray(r, 5.2, 60, 0.1))
for n, rate in ((500, 250000), (1000, 48000), (5000, 48000), (20000, 48000)):
    add("white-%gms" % (1000 * n / rate), "noise", lambda r, n=n, f=rate: noise(r, False, n, f))
    add("pink-%gms" % (1000 * n / rate), "noise", lambda r, n=n, f=rate: noise(r, True, n, f))


for n in (500, 5000):
    add("rising-%dsamples" % n, "noise", lambda r, n=n: coloured(power_law(0.5, n), n))
    add("brown-%dsamples" % n, "noise", lambda r, n=n: coloured(power_law(2, n), n))
    add("band-%dsamples" % n, "noise", lambda r, n=n: coloured(band_noise(0.02, 0.06), n))
    add("popcorn-%dsamples" % n, "noise", lambda r, n=n: coloured(popcorn(0.1, 5 / n), n))
    add("pink-20codes-%dsamples" % n, "noise", lambda r, n=n: coloured(power_law(1, n), n, 20), noisy=False)
add("rising-40ms", "noise", lambda r: coloured(power_law(0.5, 1920), 1920))
add("pink-64samples", "noise", lambda r: coloured(power_law(1, 64), 64))


def hum_third(random):
    record = hum(random, 0.115, 50, 0.1)
    record.lines.insert(1, Line("signal", record.lines[0].cycles, 3, 0.1, random.random()))
    return record
