"""A chain of every kind in the campaign, once: the verdict is right by the campaign's own truths (faults.py), and what is told of
every stage, point and rail is what it was when it was kept (kept.py beside the standards' tests)."""

import os
import sys
import tempfile
from pathlib import Path

import campaign

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "standards"))
import kept  # noqa: E402

FILE = str(Path(__file__).resolve().parent / "kept_walks.txt")
SEED = 20
FIRST = 0.2800759626301593  # of NumPy's random numbers: others make other chains
QUANTITIES = ("gain", "dc", "thd_added", "noise_added", "hum_added")


def told(reading):
    text = kept.told(reading)
    if "expected" in reading:
        text += f" expected {reading['expected']:.5g} tolerance {reading['tolerance']:.4g}"
    return f"{text} {reading.get('status', '')}".rstrip()


def lines_of(chain):
    verdict = chain["verdict"]
    lines = ["verdict " + " ".join(str(verdict.get(key)) for key in ("status", "code", "from", "to", "point", "exact", "summary"))]
    lines += [f"next {one['point']}" for one in chain["next"]]
    for finding in chain["findings"]:
        keys = ("code", "status", "from", "to", "point", "follows", "evidence")
        lines.append("finding " + " ".join(str(finding.get(key)) for key in keys))
    for node in chain["points"] + chain["rails"]:
        lines.append(f"{node['name']} {node['status']}")
        lines += [f"{node['name']} {key} {told(reading)}" for key, reading in node.get("judged", {}).items()]
    for stage in chain["stages"]:
        name = f"{stage['from']}>{stage['to']}"
        lines.append(f"{name} {stage['kind']} {stage['status']} polarity {stage['polarity']}")
        lines += [f"{name} {key} {told(stage[key])}" for key in QUANTITIES
                  if key in stage and stage[key].get("status") != "unjudged"]
    return lines


def walked(folder):
    """{kind: lines}, and what is not right by the campaign's truths."""
    jobs = [campaign.run.Job(Path(folder) / kind.replace(":", "-"), SEED, kind, index)
            for kind, index in campaign.plan(1)]
    for job in jobs:
        job.take_all()
    now, found = {}, []
    for job, answer in zip(jobs, campaign.run.walk([job.path for job in jobs])):
        score = campaign.run.judge(job, answer)
        now[job.kind] = lines_of(answer)
        if not score.good:
            found.append(f"{score.label}: truth {score.truth}, said {score.said}")
    return now, found


def main():
    if not os.environ.get("GAINWALK"):
        print("skipped: there is no program to run")
        return 77
    if campaign.run.rng_of(SEED, "", 0).random() != FIRST:
        print("skipped: this NumPy draws other random numbers")
        return 77
    with tempfile.TemporaryDirectory() as folder:
        now, found = walked(folder)
    found += kept.compare(FILE, now)
    print("\n".join(found))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
