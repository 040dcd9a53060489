"""A campaign of simulated chains: healthy ones, faulty ones, captures to be doubted. See faults.py for what is in it.

usage: campaign.py N [--seed S] [--jobs J] [--kind WORD] [--failures K] [--keep FOLDER] [--json FILE]
       campaign.py --case SEED:GROUP:KIND:INDEX --keep FOLDER

N healthy chains, N/10 of each kind of fault, N/20 of each kind of doubt, and a search for each fault that shows in
level. Prints the score by kind, and a line with its seed for each failure; the status is 1 where a goal is missed.
"""

import argparse
import multiprocessing
import shutil
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import run

BATCH = 40


def plan(count, only=""):
    """(kind, index) of all cases."""
    weights = sum(weight for _, weight in run.HEALTHY.values())
    cases = []
    for name, (_, weight) in run.HEALTHY.items():
        cases += [("healthy:" + name, i) for i in range(max(1, round(count * weight / weights)))]
    for name in run.FAULTS:
        cases += [("fault:" + name, i) for i in range(max(1, round(count / 10)))]
    for name in run.DOUBTS:
        cases += [("doubt:" + name, i) for i in range(max(1, round(count / 20)))]
    return [case for case in cases if only in case[0]]


def do_batch(task):
    """One batch of cases, in a folder of its own."""
    seed, cases, keep, searching = task
    folder = Path(keep) if keep else Path(tempfile.mkdtemp(prefix="gainwalk-campaign-"))
    try:
        jobs = [run.Job(folder / f"{kind.replace(':', '-')}-{i}{'-search' if searching else ''}", seed, kind, i)
                for kind, i in cases]
        if searching:
            pairs = [(job, run.Score(job.label, job.kind, "fault")) for job in jobs if job.case.visible]
            run.search([job for job, _ in pairs], [score for _, score in pairs])
            return [], [score for _, score in pairs]
        for job in jobs:
            job.take_all()
        return [run.judge(job, answer) for job, answer in zip(jobs, run.walk([job.path for job in jobs]))], []
    finally:
        if not keep:
            shutil.rmtree(folder)


def run_all(seed, cases, jobs=1, keep=None):
    """Scores of all cases with every point probed, and of the searches."""
    searches = [case for case in cases if case[0].startswith("fault:")]
    tasks = [(seed, cases[at : at + BATCH], keep, False) for at in range(0, len(cases), BATCH)]
    tasks += [(seed, searches[at : at + BATCH], keep, True) for at in range(0, len(searches), BATCH)]
    if jobs > 1:
        with multiprocessing.Pool(jobs) as pool:
            parts = pool.map(do_batch, tasks, chunksize=1)
    else:
        parts = [do_batch(task) for task in tasks]
    return [s for scores, _ in parts for s in scores], [s for _, found in parts for s in found]


def by_kind(scores):
    groups = defaultdict(list)
    for score in scores:
        groups[score.kind].append(score)
    return groups


def share(scores, test):
    return 100 * sum(map(test, scores)) / len(scores) if scores else float("nan")


def table(scores, found, out=sys.stdout):
    print(f"{'kind':28} {'chains':>6} {'good':>6} {'place':>6} {'code':>6} {'unsure':>6} {'other':>6} {'extra':>6} "
          f"{'probes':>7} {'allowed':>7} {'found':>6}", file=out)
    searched = by_kind(found)
    for kind, group in by_kind(scores).items():
        line = (f"{kind:28} {len(group):6} {share(group, lambda s: s.good):6.1f} {share(group, lambda s: s.place):6.1f} "
                f"{share(group, lambda s: s.code):6.1f} {share(group, lambda s: s.status == 'unsure'):6.1f} "
                f"{share(group, lambda s: s.status == 'incomplete'):6.1f} {sum(s.extra for s in group):6}")
        if searched.get(kind):
            probes = searched[kind]
            line += (f" {sum(s.probes for s in probes) / len(probes):7.2f} "
                     f"{sum(run.allowed_probes(s.stages) for s in probes) / len(probes):7.2f} "
                     f"{share(probes, lambda s: s.found):6.1f}")
        print(line, file=out)


def summary(scores, found):
    """The goals and what was reached."""
    healthy = [s for s in scores if s.expect == "healthy"]
    faulty = [s for s in scores if s.expect == "fault"]
    false_alarms = sum(not s.good for s in healthy)
    right = share(faulty, lambda s: s.good)
    lines = [f"healthy chains {len(healthy)}, false alarms {false_alarms}, "
             f"clear {share(healthy, lambda s: s.status == 'clear'):.1f} %",
             f"faulty chains {len(faulty)}, right stage and code {right:.2f} %"]
    met = false_alarms == 0 and (not faulty or right >= 99)
    if found:
        mean = sum(s.probes for s in found) / len(found)
        allowed = sum(run.allowed_probes(s.stages) for s in found) / len(found)
        lines.append(f"searches {len(found)}, probes {mean:.2f} on average, ceil(log2 n) + 1 is {allowed:.2f}, "
                     f"stage found {share(found, lambda s: s.found):.1f} %")
        met = met and mean <= allowed
    return lines, met


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", nargs="?", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--kind", default="")
    parser.add_argument("--failures", type=int, default=40, help="how many failures to print")
    parser.add_argument("--keep", help="a new folder that keeps the files")
    parser.add_argument("--case", help="one case, as a failure names it")
    options = parser.parse_args()
    cases, seed = plan(options.count, options.kind), options.seed
    if options.case:
        seed, kind, index = options.case.split(":", 1)[0], *options.case.split(":", 1)[1].rsplit(":", 1)
        seed, cases = int(seed), [(kind, int(index))]
    scores, found = run_all(seed, cases, options.jobs if not options.case else 1, options.keep)
    failures = [s for s in scores if not s.good]
    for score in failures[: options.failures]:
        print(f"{score.label}\n  truth {score.truth}\n  said  {score.said}")
    lost = [s for s in found if not s.found]
    for score in lost[: options.failures // 2]:
        print(f"{score.label} search\n  said  {score.said}")
    table(scores, found)
    lines, met = summary(scores, found)
    print("\n".join(lines))
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
