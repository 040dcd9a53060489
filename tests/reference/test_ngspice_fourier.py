"""ngspice's own Fourier analysis of two stages beside the program's reading of the very transient, run live: a stage that
clips at half the peak, and one with a square and a cube in it. Closed forms:
  THD of a sine of 1 clipped at +-0.5, orders 2 to 10: the Fourier integral of a clipped sine, taken here by SciPy;
  x + 0.01 x^2 + 0.005 x^3: H1 = 1 + 3/4 0.005, H2 = 0.01/2, H3 = 0.005/4 (powers of a sine, Abramowitz & Stegun 4.3.25).
ngspice takes the odd power of a node by its absolute value: the cube is written as a product."""

import math
import os
import re
import shutil
import subprocess
import sys
import tempfile

import beside
from beside import close

import numpy as np
from scipy import integrate

if shutil.which("ngspice") is None:
    print("ngspice is not installed")
    sys.exit(77)

ORDERS = 10

STAGES = {
    "clips at half": "B1 out 0 V = max(min(V(in), 0.5), -0.5)",
    "square and cube": "B1 out 0 V = V(in) + 0.01*V(in)*V(in) + 0.005*V(in)*V(in)*V(in)",
}


def simulate(folder, stage):
    """ngspice's harmonics (RMS, orders 1 to 10), and the name of the transient as a CSV file of 10.3 cycles."""
    with open(os.path.join(folder, "stage.cir"), "w", encoding="ascii") as file:
        file.write("* a stage\nV1 in 0 SIN(0 1 1000)\n%s\nR1 out 0 1k\n.control\nset numdgt=12\nset nfreqs=%d\n"
                   "set wr_singlescale\ntran 1u 10.3m 0 0.5u\nlinearize v(out)\nwrdata wave.txt v(out)\n"
                   "fourier 1000 v(out)\nquit\n.endc\n.end\n" % (stage, ORDERS + 1))
    done = subprocess.run(["ngspice", "-b", "stage.cir"], cwd=folder, capture_output=True, text=True, check=False)
    rows = re.findall(r"^\s*(\d+)\s+([\d.e+-]+)\s+([\d.e+-]+)\s", done.stdout, re.MULTILINE)
    peaks = {int(order): float(peak) for order, _, peak in rows}
    if set(range(1, ORDERS + 1)) - set(peaks):
        raise AssertionError("no Fourier table:\n" + done.stdout + done.stderr)
    wave = np.loadtxt(os.path.join(folder, "wave.txt"))
    name = beside.write_csv(os.path.join(folder, "wave.csv"), wave[:, 1], 1 / (wave[1, 0] - wave[0, 0]))
    return [peaks[order] / math.sqrt(2) for order in range(1, ORDERS + 1)], name


def closed_form(stage):
    """RMS of orders 1 to 10."""
    if stage == "square and cube":
        peaks = [1 + 0.75 * 0.005, 0.01 / 2, 0.005 / 4] + [0] * (ORDERS - 3)
    else:
        peaks = [integrate.quad(lambda x, n=n: max(min(math.sin(x), 0.5), -0.5) * math.sin(n * x) / math.pi, 0, 2 * math.pi,
                                points=[math.pi * k / 6 for k in (1, 5, 7, 11)], limit=200)[0]
                 for n in range(1, ORDERS + 1)]
    return [abs(peak) / math.sqrt(2) for peak in peaks]


def thd_of(harmonics):
    return 100 * math.sqrt(sum(h * h for h in harmonics[1:])) / harmonics[0]


def check(folder, stage):
    spice, name = simulate(folder, STAGES[stage])
    truth = closed_form(stage)
    told = beside.measure("--accuracy", "0%", "--stimulus", "sine 1kHz", name)[0]
    ours = {h["order"]: h["rms"] for h in told["harmonics"]}
    for order in range(1, ORDERS + 1):
        close("%s, order %d beside ngspice" % (stage, order), ours.get(order, 0), spice[order - 1], 2e-4 * truth[0], 6e-5 * truth[0])
        close("%s, order %d, closed form" % (stage, order), ours.get(order, 0), truth[order - 1], 1e-4 * truth[0], 5e-6 * truth[0])
    thd = told["readings"]["thd"].get("value")
    close(stage + ", THD of ngspice, %", thd_of(spice), thd_of(truth), 0.03)
    close(stage + ", THD, %", thd, thd_of(truth), 0.01 * thd_of(truth), 5e-5 * thd_of(truth))


def main():
    for stage in STAGES:
        with tempfile.TemporaryDirectory() as folder:
            check(folder, stage)
    beside.end()


main()
