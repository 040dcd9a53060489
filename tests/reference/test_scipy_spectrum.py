"""The spectrum side of measuring beside SciPy, run live: Welch's estimate, the Hann window, weighting A from its poles,
the median of chi-square, tones by SciPy's own least squares, the median density.

The sources are built into a shared library in a temporary folder and called through ctypes."""

import ctypes
import os
import pathlib
import shlex
import subprocess
import tempfile

from beside import close, end

import numpy as np
from scipy import optimize, signal, stats

ROOT = pathlib.Path(os.environ.get("GAINWALK_ROOT", pathlib.Path(__file__).resolve().parents[2]))
SOURCES = ["base/arena.c", "measure/spectrum.c", "measure/noise.c", "measure/density.c", "measure/weighting.c",
           "measure/robust.c", "measure/solve.c", "measure/tones.c", "measure/sine.c", "measure/shelf.c", "measure/comb.c",
           "measure/sums.c", "measure/transform.c"]


class Psd(ctypes.Structure):
    _fields_ = [("bins", ctypes.c_size_t), ("bin_hz", ctypes.c_double), ("density", ctypes.POINTER(ctypes.c_double)),
                ("samples", ctypes.c_size_t), ("duration_s", ctypes.c_double), ("segment", ctypes.c_size_t),
                ("segments", ctypes.c_size_t), ("freedom", ctypes.c_double), ("mean_square", ctypes.c_double),
                ("parseval", ctypes.c_double)]


class Band(ctypes.Structure):
    _fields_ = [("low_hz", ctypes.c_double), ("high_hz", ctypes.c_double)]


class Fitted(ctypes.Structure):
    _fields_ = [("frequencies_hz", ctypes.c_void_p), ("count", ctypes.c_size_t)]


class Noise(ctypes.Structure):
    _fields_ = [("valid", ctypes.c_bool), ("rms", ctypes.c_double), ("freedom", ctypes.c_double),
                ("relative", ctypes.c_double)]


class Floor(ctypes.Structure):
    _fields_ = [("valid", ctypes.c_bool), ("density", ctypes.c_double), ("relative", ctypes.c_double)]


class Search(ctypes.Structure):
    _fields_ = [("low_hz", ctypes.c_double), ("high_hz", ctypes.c_double), ("false_alarm", ctypes.c_double),
                ("step", ctypes.c_double), ("shelf", ctypes.c_void_p)]


class Line(ctypes.Structure):
    _fields_ = [(name, ctypes.c_double) for name in ("frequency_hz", "rms", "u_rms", "u_hz", "over_floor")]


def build(folder):
    flags = subprocess.run(["pkg-config", "--cflags", "--libs", "kissfft-float"], capture_output=True, text=True,
                           check=True).stdout
    library = pathlib.Path(folder) / "spectrum.so"
    command = [os.environ.get("CC", "cc"), "-std=c17", "-D_POSIX_C_SOURCE=200809L", "-O2", "-shared", "-fPIC",
               f"-I{ROOT}/include", f"-I{ROOT}/src", *[str(ROOT / "src" / source) for source in SOURCES], "-o",
               str(library), *shlex.split(flags), "-lm"]
    subprocess.run(command, check=True)
    lib = ctypes.CDLL(str(library))
    lib.gw_arena_new.restype = ctypes.c_void_p
    lib.gw_arena_free.argtypes = [ctypes.c_void_p]
    lib.gw_psd_welch.restype = ctypes.c_bool
    lib.gw_psd_welch.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_double, ctypes.c_size_t,
                                 ctypes.c_void_p, ctypes.POINTER(Psd)]
    lib.gw_noise_rms.restype = Noise
    lib.gw_noise_rms.argtypes = [ctypes.POINTER(Psd), Band, ctypes.c_int, Fitted]
    lib.gw_noise_density.restype = ctypes.c_bool
    lib.gw_noise_density.argtypes = [ctypes.POINTER(Psd), Band, Fitted, ctypes.POINTER(Floor)]
    lib.gw_weighting_a.restype = ctypes.c_double
    lib.gw_weighting_a.argtypes = [ctypes.c_double]
    lib.gw_chi_square_median.restype = ctypes.c_double
    lib.gw_chi_square_median.argtypes = [ctypes.c_double]
    lib.gw_window_hann.argtypes = [ctypes.c_void_p, ctypes.c_size_t]
    lib.gw_tones_find.restype = ctypes.c_bool
    lib.gw_tones_find.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_double,
                                  ctypes.POINTER(Search), ctypes.POINTER(Line), ctypes.c_size_t,
                                  ctypes.POINTER(ctypes.c_size_t)]
    return lib


def welch(lib, arena, x, rate, segment):
    psd = Psd()
    assert lib.gw_psd_welch(x.ctypes.data, None, len(x), rate, segment, arena, ctypes.byref(psd))
    return psd, np.ctypeslib.as_array(psd.density, (psd.bins,))


def check_welch(lib, arena, random):
    for n, segment, rate in ((9216, 2048, 48000.0), (300, 100, 1e6), (66000, 1000, 44100.0), (5000, 5000, 2e5)):
        x = random.normal(0, 3e-3, n) + 0.01 * np.sin(1.3 * np.arange(n))
        psd, density = welch(lib, arena, x, rate, segment)
        # lengths for which whole half-segments fill the record: there both take the same segments
        frequencies, expected = signal.welch(x, rate, "hann", psd.segment, detrend=False)
        ours = density / psd.parseval
        ours[0] /= 2
        ours[-1] /= 2
        close(f"Welch, {n} samples in segments of {segment}", ours / expected.max(), expected / expected.max(), 1e-6)
        close(f"bins of {n}", np.arange(psd.bins) * psd.bin_hz, frequencies, 1e-6 * rate)
        close(f"Parseval, {n}", psd.mean_square / np.mean(x**2), 1, 1e-12)


def check_noise(lib, arena, random):
    x = random.normal(0, 1, 9216)
    psd, density = welch(lib, arena, x, 48000.0, 2048)
    frequencies = np.arange(psd.bins) * psd.bin_hz
    inside = (frequencies > 1000.1 - psd.bin_hz / 2) & (frequencies < 15000)
    low, high = frequencies[inside][0] - psd.bin_hz / 2, frequencies[inside][-1] + psd.bin_hz / 2
    noise = lib.gw_noise_rms(psd, Band(low, high), 0, Fitted(None, 0))
    close("noise in whole bins", noise.rms, np.sqrt(density[inside].sum() * psd.bin_hz), 1e-9)
    weights = np.array([lib.gw_weighting_a(f) for f in frequencies[inside]])
    weighted = lib.gw_noise_rms(psd, Band(low, high), 1, Fitted(None, 0))
    close("A-weighted", weighted.rms, np.sqrt((density[inside] * weights**2).sum() * psd.bin_hz), 1e-5)
    floor = Floor()
    assert lib.gw_noise_density(psd, Band(0, 24000), Fitted(None, 0), ctypes.byref(floor))
    expected = np.sqrt(np.median(density[1:-1]) / (stats.chi2.median(psd.freedom) / psd.freedom))
    close("density from the median", floor.density / expected, 1, 1e-5)
    for freedom in (2, 4, 8, 15.2, 60, 500):
        tolerance = 2e-3 if freedom < 3 else 5e-4 if freedom < 6 else 5e-5
        close(f"median of chi-square, {freedom}", lib.gw_chi_square_median(freedom),
              stats.chi2.median(freedom) / freedom, tolerance)


def check_weighting(lib):
    # IEC 61672-1:2013 E.4.1: the four pole frequencies follow from these six numbers
    fr, fl, fh, d = 1000.0, 10**1.5, 10**3.9, np.sqrt(0.5)
    b = (1 / (1 - d)) * (fr**2 + fl**2 * fh**2 / fr**2 - d * (fl**2 + fh**2))
    c = fl**2 * fh**2
    root = np.sqrt(b**2 - 4 * c)
    f1, f4 = np.sqrt((-b - root) / 2), np.sqrt((-b + root) / 2)
    fa = 10**2.45
    f2, f3 = fa * (3 - np.sqrt(5)) / 2, fa * (3 + np.sqrt(5)) / 2
    close("poles of IEC 61672-1", [f1, f2, f3, f4], [20.598997, 107.65265, 737.86223, 12194.217], 2e-3)
    poles = -2 * np.pi * np.array([f1, f1, f2, f3, f4, f4])
    hertz = np.geomspace(10, 40000, 200)
    _, response = signal.freqs_zpk([0, 0, 0, 0], poles, 1, 2 * np.pi * np.append(hertz, 1000))
    expected = np.abs(response[:-1]) / np.abs(response[-1])
    ours = np.array([lib.gw_weighting_a(f) for f in hertz])
    close("weighting A beside its analogue filter, dB", 20 * np.log10(ours / expected), 0, 1e-4)


def check_window(lib):
    window = np.empty(1000)
    lib.gw_window_hann(window.ctypes.data, 1000)
    close("Hann window", window, signal.get_window("hann", 1000), 1e-12)


def check_tones(lib, random):
    rate, n = 48000.0, 4000
    t = np.arange(n) / rate
    x = random.normal(0, 1e-3, n) + 0.01 * np.sin(2 * np.pi * 7013.3 * t + 1)
    lines, count = (Line * 8)(), ctypes.c_size_t()
    assert lib.gw_tones_find(x.ctypes.data, None, n, rate, Search(0, 0, 0, 0), lines, 8, ctypes.byref(count))
    close("one tone", count.value, 1, 0)

    def model(parameters):
        a, b, f = parameters
        return a * np.cos(2 * np.pi * f * t) + b * np.sin(2 * np.pi * f * t) - x

    fit = optimize.least_squares(model, [0.008, 0.005, 7013.0], xtol=1e-15, ftol=1e-15, gtol=1e-15,
                                 x_scale=[0.01, 0.01, 1])
    square = (fit.x[0]**2 + fit.x[1]**2) / 2
    close("frequency beside SciPy's least squares", lines[0].frequency_hz / fit.x[2], 1, 1e-7)
    floor = 2 * lines[0].u_rms**2  # what the floor puts into a fitted line, taken out of the square
    close("RMS beside SciPy's least squares", np.sqrt(lines[0].rms**2 + floor) / np.sqrt(square), 1, 1e-6)


def main():
    with tempfile.TemporaryDirectory() as folder:
        lib = build(folder)
        random = np.random.default_rng(20)
        arena = lib.gw_arena_new()
        check_welch(lib, arena, random)
        check_noise(lib, arena, random)
        check_weighting(lib)
        check_window(lib)
        check_tones(lib, random)
        lib.gw_arena_free(arena)
    end()


main()
