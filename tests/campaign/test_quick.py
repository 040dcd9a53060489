"""The quick part of the campaign: a small set with fixed seeds, against the goals.

Goals: no false alarm in healthy chains; 99 % of clear single faults at the right stage with an acceptable code (here: of a
hundred odd, one); no more than ceil(log2 n) + 1 probes on average. The whole campaign: scripts/campaign.
"""

import os
import sys

import campaign

SEED = 20
HEALTHY, FAULTY = (12, 1) if "GAINWALK_SANITIZED" in os.environ else (60, 3)  # fewer in a slow build, which looks for faults
MISSES, ASTRAY = 1, 0


def main():
    if not os.environ.get("GAINWALK"):
        print("skipped: there is no program to run")
        return 77
    cases = [case for case in campaign.plan(HEALTHY) if not case[0].startswith("fault:")]
    faults = [case for case in campaign.plan(FAULTY * 10) if case[0].startswith("fault:")]
    scores, found = campaign.run_all(SEED, cases + faults, jobs=2)
    campaign.table(scores, found)
    misses = [s for s in scores if not s.good]
    for score in misses:
        print(f"{score.label}\n  truth {score.truth}\n  said  {score.said}")
    lines, _ = campaign.summary(scores, found)
    print("\n".join(lines))
    false_alarms = sum(s.status == "fault" or (s.expect == "healthy" and not s.good) for s in scores if s.expect != "fault")
    missed = sum(not s.good for s in scores if s.expect != "healthy")
    probes = sum(s.probes for s in found) / len(found)
    allowed = sum(campaign.run.allowed_probes(s.stages) for s in found) / len(found)
    astray = sum(not s.found for s in found)
    if false_alarms or missed > MISSES or probes > allowed or astray > ASTRAY:
        print(f"false alarms {false_alarms}, missed {missed}, searches astray {astray}, probes {probes:.2f} of {allowed:.2f}")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
