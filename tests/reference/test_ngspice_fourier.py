"""ngspice's own Fourier analysis of stages beside the program's reading of the very transient, run live: a stage that
clips at half the peak, one with a dead zone, one with a square and a cube in it, one with a cube that ngspice takes by
its absolute value (a power of a node; a product keeps the sign). Closed forms: the Fourier integrals, by SciPy; check
values in front of what they are for, in per cent: THD of orders 2 to 20. And its noise: what .noise makes of 10 kohm
before a gain of 101, and a second of such noise read by the program."""

import math
import os
import re
import shutil
import subprocess
import sys
import tempfile

import beside
from beside import claim, close

import numpy as np
from scipy import integrate

if shutil.which("ngspice") is None:
    print("ngspice is not installed")
    sys.exit(77)

ORDERS = 20  # of the figures; the program's own THD is of orders 2 to 10

# what ngspice is told; the same; where it bends, in radians; THD of orders 2 to 20 in per cent, as published, and how
# near ngspice and the program come
STAGES = {
    "F-ng-clip": ("max(min(V(in), 0.5), -0.5)", lambda x: max(min(x, 0.5), -0.5), [math.asin(0.5)],
                  23.2853, (1e-2, 2e-3), (1e-3, 3e-4)),
    "F-ng-dead": ("V(in) - max(min(V(in), 0.1), -0.1)", lambda x: x - max(min(x, 0.1), -0.1), [math.asin(0.1)],
                  6.25173, (1e-2, 2e-3), (1e-3, 3e-4)),
    "F-ng-pol": ("V(in) + 0.01*V(in)*V(in) + 0.005*V(in)*V(in)*V(in)", lambda x: x + 0.01 * x**2 + 0.005 * x**3, [],
                 0.513463, (1e-4, 1e-5), (1e-5, 5e-6)),
    # |x|^3 has no third order, but even ones
    "F-ng-abs": ("V(in) + 0.005*V(in)^3", lambda x: x + 0.005 * abs(x)**3, [0], None, (), ()),
}


def simulate(folder, stage):
    """ngspice's harmonics (RMS, orders 1 to 20), and the name of the transient as a CSV file of 10.3 cycles."""
    with open(os.path.join(folder, "stage.cir"), "w", encoding="ascii") as file:
        file.write("* a stage\nV1 in 0 SIN(0 1 1000)\nB1 out 0 V = %s\nR1 out 0 1k\n.control\nset numdgt=12\nset nfreqs=%d\n"
                   "set fourgridsize=20000\nset wr_singlescale\ntran 1u 10.3m 0 0.5u\nlinearize v(out)\nwrdata wave.txt v(out)\n"
                   "fourier 1000 v(out)\nquit\n.endc\n.end\n" % (stage, ORDERS + 1))
    done = subprocess.run(["ngspice", "-b", "stage.cir"], cwd=folder, capture_output=True, text=True, check=False)
    rows = re.findall(r"^\s*(\d+)\s+([\d.e+-]+)\s+([\d.e+-]+)\s", done.stdout, re.MULTILINE)
    peaks = {int(order): float(peak) for order, _, peak in rows}
    if set(range(1, ORDERS + 1)) - set(peaks):
        raise AssertionError("no Fourier table:\n" + done.stdout + done.stderr)
    wave = np.loadtxt(os.path.join(folder, "wave.txt"))
    name = beside.write_csv(os.path.join(folder, "wave.csv"), wave[:, 1], 1 / (wave[1, 0] - wave[0, 0]))
    return [peaks[order] / math.sqrt(2) for order in range(1, ORDERS + 1)], name


def closed_form(transfer, bends):
    """RMS of orders 1 to 20 of a sine of 1 through a transfer curve that bends at these angles of its quarter wave."""
    corners = sorted({corner % (2 * math.pi) for bend in bends for corner in (bend, math.pi - bend, math.pi + bend, -bend)})
    power = []
    for n in range(1, ORDERS + 1):
        parts = [integrate.quad(lambda x: transfer(math.sin(x)) * wave(n * x) / math.pi, 0, 2 * math.pi,
                                points=corners or None, limit=400, epsabs=1e-13)[0] for wave in (math.sin, math.cos)]
        power.append(math.hypot(*parts) / math.sqrt(2))
    return power


def thd_of(harmonics, last):
    return 100 * math.sqrt(sum(h * h for h in harmonics[1:last])) / harmonics[0]


def check(folder, label):
    told_to, transfer, bends, published, near_spice, near_ours = STAGES[label]
    spice, name = simulate(folder, told_to)
    truth = closed_form(transfer, bends)
    told = beside.measure("--accuracy", "0%", "--stimulus", "sine 1kHz", name)[0]
    table = {h["order"]: h["rms"] for h in told["harmonics"]}
    ours = [table.get(order, 0) for order in range(1, ORDERS + 1)]
    close(label + ", orders beside ngspice", ours, spice, 2e-4 * truth[0], 6e-5 * truth[0])
    close(label + ", orders, closed form", ours, truth, 1e-4 * truth[0], 5e-6 * truth[0])
    if published:
        close(label + ", the closed form itself", thd_of(truth, ORDERS), published, 1e-3, 1e-4)
        close(label + ", ngspice", thd_of(spice, ORDERS), published, *near_spice)
        close(label + ", by the program", thd_of(ours, ORDERS), published, *near_ours)
    else:
        close(label + ", third order of ngspice", spice[2], 0, 1e-6, 1e-9)
        close(label + ", third order", ours[2], 0, 1e-6, 1e-9)
        claim(ours[1] > 1e-3 and ours[3] > 1e-4, "orders 2 and 4 instead")
    thd = told["readings"]["thd"]
    close(label + ", THD, %", thd.get("value"), thd_of(truth, 10), 0.01 * thd_of(truth, 10), 5e-5 * thd_of(truth, 10))


BOLTZMANN, KELVIN, RATE = 1.380649e-23, 300, 50000
SOURCE, ABOVE, BELOW = 10e3, 100e3, 1e3  # ohms; the last two set the gain, and are heard as if in parallel
GAIN = 1 + ABOVE / BELOW
DENSITY = GAIN * math.sqrt(4 * BOLTZMANN * KELVIN * (SOURCE + ABOVE * BELOW / (ABOVE + BELOW)))


def noise_by_ngspice(folder):
    """Volts RMS of 20 Hz to 20 kHz."""
    with open(os.path.join(folder, "noise.cir"), "w", encoding="ascii") as file:
        file.write("* a source and a stage\n.temp %g\nV1 a 0 dc 0 ac 1\nR1 a in %g\nE1 out 0 in n 1e9\nRf out n %g\n"
                   "Rg n 0 %g\n.control\nset numdgt=12\nnoise v(out) V1 lin 2000 20 20k 1\nprint onoise_total\nquit\n"
                   ".endc\n.end\n" % (KELVIN - 273.15, SOURCE, ABOVE, BELOW))
    done = subprocess.run(["ngspice", "-b", "noise.cir"], cwd=folder, capture_output=True, text=True, check=False)
    return float(re.search(r"onoise_total = ([\d.e+-]+)", done.stdout).group(1))


def check_noise(folder):
    spice = noise_by_ngspice(folder)
    # ngspice's own generator gives other numbers at each run
    wave = spice / math.sqrt(20000 - 20) * math.sqrt(RATE / 2) * np.random.default_rng(5).normal(size=RATE)
    closed = DENSITY * math.sqrt(20000 - 20)
    close("F-ng-noise, uV of ngspice's .noise", 1e6 * spice, 192.51, 0.5, 0.2)
    close("its closed form, uV", 1e6 * spice, 1e6 * closed, 0.1, 0.01)
    name = beside.write_csv(os.path.join(folder, "noise.csv"), wave, RATE)
    told = beside.measure("--accuracy", "0%", "--stimulus", "none", name)[0]
    readings = told["readings"]
    claim(told["signal"] == "noise" and not told["tones"], "noise, and no tone in it")
    # a second of it: 20,000 Hz times 1 s are 40,000 independent values, 0.35 % of their RMS (Bendat & Piersol)
    close("F-ng-noise, uV by the program", 1e6 * readings["noise"]["value"], 192.51, 2, 0.7)
    close("within u95, uV", 1e6 * readings["noise"]["value"], 1e6 * closed, 1e6 * readings["noise"]["u95"])
    close("density, nV", 1e9 * readings["noise_density"]["value"], 1e9 * DENSITY, 1e9 * readings["noise_density"]["u95"])


def main():
    for label in STAGES:
        with tempfile.TemporaryDirectory() as folder:
            check(folder, label)
    with tempfile.TemporaryDirectory() as folder:
        check_noise(folder)
    beside.end()


main()
