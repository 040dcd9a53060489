"""Cases to files, the program over many of them at once, its answers against the truth."""

import json
import math
import os
import subprocess
import zlib
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

import bench
import faults
import more

HEALTHY = {**faults.HEALTHY, **more.HEALTHY}
FAULTS = {**faults.FAULTS, **more.FAULTS}
DOUBTS = {**faults.DOUBTS, **more.DOUBTS}


def rng_of(seed, kind, index):
    return np.random.default_rng([seed, zlib.crc32(kind.encode()), index])


def make_case(seed, kind, index):
    """The case and the random numbers that go on from it."""
    rng = rng_of(seed, kind, index)
    group, _, name = kind.partition(":")
    if group == "healthy":
        return HEALTHY[name][0](rng), rng
    return (FAULTS if group == "fault" else DOUBTS)[name](rng), rng


class Job:
    """One chain on the bench: its folder, its voltages, the captures taken so far."""

    def __init__(self, folder, seed, kind, index):
        self.folder = Path(folder)
        self.label = f"{seed}:{kind}:{index}"
        self.kind = kind
        self.case, self.rng = make_case(seed, kind, index)
        chain = self.case.chain
        self.folder.mkdir(parents=True)
        self.names = chain.names()
        self.volts = dict(zip(self.names, chain.voltages()))
        self.taken = []
        self._instrument()
        self.path = self.folder / "chain.ini"
        self.path.write_text(chain.file_text(self.instrument_text, rails=True))
        for rail in chain.rails:
            self._take_rail(rail)

    def _instrument(self):
        rng, case = self.rng, self.case
        probe = int(rng.choice([1, 10]))
        in_file = probe == 1 or rng.random() < 0.5
        zero = float(rng.choice([0, 0.001, 0.003])) * probe
        accuracy = float(rng.choice([0.03, 0.03, 0.02, 0.01]))
        text = []
        if accuracy != 0.03 or rng.random() < 0.5:
            text.append(f"accuracy = {accuracy * 100:g} %")
        if not in_file:
            text.append(f"probe = x{probe}")
        if zero:
            text.append(f"zero = {zero * 1000:g} mV")
        if case.reference:
            text.append("reference = 1")
        self.recorder = bench.Scope(rng, accuracy, probe, in_file, zero, ac_coupled=case.recorder == "ac")
        if case.expect == "fault":
            self.recorder.centred = 1.0  # a clear fault shows on the screen: nobody looks for one in three codes
        if case.recorder == "wav":
            largest = max(np.max(np.abs(v - np.mean(v))) for v in self.volts.values())
            scale = float(f"{largest * rng.uniform(1.2, 3):.3g}")
            text = [f"full_scale = {scale:g} V", "coupling = ac"]
            self.recorder = bench.SoundCard(rng, scale)
        self.instrument_text = text

    def _window(self):
        rng, case, frequency = self.rng, self.case, self.case.chain.frequency_hz
        if case.long:
            length = rng.uniform(0.045, 0.1)
            return bench.window_of(rng, frequency, length * frequency, 2500)
        cycles = rng.uniform(*case.cycles) if case.cycles else None
        if case.chain.shape == "noise":  # long enough for its level to be known
            return bench.window_of(rng, frequency, rng.uniform(0.02, 0.05) * frequency, 2500)
        if cycles is None and case.chain.shape == "two-tone":
            cycles = rng.uniform(10, 20)
        points = int(rng.integers(case.points[0], case.points[1] + 1)) if case.points else None
        return bench.window_of(rng, frequency, cycles, points)

    def take(self, name):
        """Probes a point: its capture appears in the folder."""
        case, rng = self.case, self.rng
        voltage = self.volts[name]
        if name in case.tamper:
            voltage = case.tamper[name](voltage)
        voltages = [voltage]
        if case.reference:
            drift = rng.uniform(0.6, 1.5)
            middle = np.mean(voltage)
            voltages = [self.volts["J1"] * drift, middle + (voltage - middle) * drift]
        recorder = self.recorder
        if name in case.coarse:
            recorder = _Ranged(recorder, case.coarse[name])
        suffix = ".wav" if case.recorder == "wav" else ".csv"
        recorder.write(self.folder / (name + suffix), voltages, self._window())
        self.taken.append(name)
        if case.reference and len(self.taken) == 1:
            text = self.path.read_text()
            self.path.write_text(text.replace("[point J1]", "[point J1]\nchannel = 1"))
            for stage in case.chain.stages:
                text = self.path.read_text()
                self.path.write_text(text.replace(f"[point {stage.name}]\n", f"[point {stage.name}]\nchannel = 2\n"))

    def take_all(self):
        for name in self.names:
            self.take(name)

    def _take_rail(self, rail):
        if rail.metered:
            reading = np.mean(rail.voltage) * (1 + self.rng.uniform(-0.003, 0.003))
            line = f"reading = {reading:.3f} V ± {'0.5 %' if abs(reading) > 1 else '10 mV'}"
            text = self.path.read_text().replace(f"[rail {rail.name}]", f"[rail {rail.name}]\n{line}")
            self.path.write_text(text)
            return
        scope = self.recorder  # the same instrument with the same probe; no chain with rails has a sound card
        window = bench.window_of(self.rng, bench.MAINS_HZ, self.rng.uniform(2.5, 5), 2500)
        scope.write(self.folder / f"{rail.name}.csv", [rail.voltage], window)


class _Ranged:
    """A recorder with its range set wrongly by a factor: above 1 too coarse, below 1 off the screen."""

    def __init__(self, scope, factor):
        self.scope, self.factor = scope, factor

    def write(self, path, voltages, window):
        scope, factor = self.scope, self.factor
        right = scope._division

        def division(swing):
            return right(swing) * factor if factor > 1 else swing * factor / 5.12

        scope._division = division
        scope.centred = 0.8 if factor > 1 else 1.0  # a trace wholly off the screen is seen by anyone
        try:
            scope.write(path, voltages, window)
        finally:
            del scope._division
            scope.centred = 0.8


def walk(paths):
    """The program's answer for each chain file: the parsed chain, or None where it has none."""
    out = {}
    for first in range(0, len(paths), 200):
        part = [str(p) for p in paths[first : first + 200]]
        done = subprocess.run([os.environ["GAINWALK"], "walk", "--json", *part], capture_output=True, text=True)
        try:
            chains = json.loads(done.stdout)["chains"]
        except (ValueError, KeyError) as fault:
            raise SystemExit(f"no answer from the program (status {done.returncode}): {done.stderr[-2000:]}") from fault
        out.update({chain["file"]: chain for chain in chains})
    return [out.get(str(p)) for p in paths]


# ---- judging the answers --------------------------------------------------------------------------------


@dataclass
class Score:
    label: str
    kind: str
    expect: str
    place: bool = False
    code: bool = False
    status: str = ""
    said: str = ""
    truth: str = ""
    extra: int = 0  # findings called off that follow from nothing, beside the verdict's own
    probes: int = None
    stages: int = None
    found: bool = None

    @property
    def good(self):
        if self.expect == "healthy":
            return self.status != "fault" and self.extra == 0
        if self.expect == "doubt":
            return self.status == "unsure" and self.place and self.code
        return self.status == "fault" and self.place and self.code


def named(case):
    """The rails or points that a case is about."""
    return case.point if isinstance(case.point, tuple) else (case.point,) if case.point else ()


def in_place(case, verdict):
    if case.point is not None:
        return verdict.get("point") in named(case)
    return (verdict.get("from"), verdict.get("to")) in case.spans


def judge(job, answer):
    case = job.case
    verdict = answer["verdict"]
    score = Score(job.label, job.kind, case.expect)
    score.status = verdict["status"]
    score.place = case.expect == "healthy" or in_place(case, verdict)
    score.code = case.expect == "healthy" or verdict.get("code") in case.codes
    score.said = (f"{verdict['status']} {verdict.get('code')} {verdict.get('from')}>{verdict.get('to')} "
                  f"point {verdict.get('point')}: {verdict.get('summary')}")
    score.truth = f"{case.expect} {'/'.join(case.codes)} {case.spans} {case.point or ''}"
    off = [f for f in answer["findings"] if f["status"] == "off" and f.get("follows") is None]
    if case.expect == "fault":
        # of two rails that share a fault, both may be named
        own = (verdict.get("from"), verdict.get("to"))
        off = [f for f in off if f["point"] not in named(case) and ((f["from"], f["to"]) != own or own == (None, None))]
    if case.second:
        second = [f for f in off if (f["from"], f["to"]) == case.second[0] and f["code"] in case.second[1]]
        score.place = score.place and bool(second)
        off = [f for f in off if f not in second]
        score.truth += f" and {case.second}"
    score.extra = len(off)
    if score.extra:
        score.said += " | off: " + "; ".join(f"{f['code']} {f['from']}>{f['to']} ({f['evidence']})" for f in off)
    return score


# ---- the technician who follows `next` ----------------------------------------------------------------------


def path_to(chain, index):
    names = []
    while index >= 0:
        names.append(index)
        index = chain.stages[index].after
    return names[::-1]


def last_behind(chain, index):
    """A leaf that the stage feeds."""
    while True:
        behind = [k for k, stage in enumerate(chain.stages) if stage.after == index]
        if not behind:
            return index
        index = behind[-1]


def search(jobs, scores):
    """Begins at the input and one output, probes what `next` says until the stage is known."""
    live = []
    for job, score in zip(jobs, scores):
        leaf = last_behind(job.case.chain, job.case.fault_stage)
        score.stages = len(path_to(job.case.chain, leaf))
        score.probes = 0
        score.found = False
        job.take("J1")
        job.take(job.names[leaf + 1])
        live.append((job, score))
    for _ in range(20):
        if not live:
            return
        answers = walk([job.path for job, _ in live])
        again = []
        for (job, score), answer in zip(live, answers):
            if probe_next(job, score, answer):
                again.append((job, score))
        live = again


def probe_next(job, score, answer):
    """Takes the capture asked for; False at the end."""
    verdict = answer["verdict"]
    score.status = verdict["status"]
    score.said = f"{verdict['status']} {verdict.get('code')} {verdict.get('from')}>{verdict.get('to')} after {job.taken}"
    if verdict["status"] == "fault" and verdict.get("exact"):
        score.found = in_place(job.case, verdict)
        return False
    wanted = [n["point"] for n in answer["next"] if n["point"] in job.names and n["point"] not in job.taken]
    if not wanted:
        return False
    job.take(wanted[0])
    score.probes += 1
    return True


def allowed_probes(stages):
    return math.ceil(math.log2(max(stages, 1))) + 1
