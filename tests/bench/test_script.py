"""What the speed is compared with does the same job: its readings agree with the program's, on a WAV and on scopes' CSVs, long and short."""

import json
import math
import os
import subprocess
import sys
import tempfile

try:
    import numpy  # noqa: F401
    import scipy  # noqa: F401
except ImportError:
    print("NumPy and SciPy are not installed")
    sys.exit(77)

import work

HERE = os.path.dirname(os.path.abspath(__file__))
CLOSE = {"dc": 2e-5, "ac_rms": 1e-4, "total_rms": 1e-4, "level": 1e-5, "peak_high": 1e-9, "peak_to_peak": 1e-9, "frequency": 1e-5,
         "crest": 1e-3, "hum": 5e-5, "dropouts": 0}


def readings(*words):
    done = subprocess.run(words, capture_output=True, check=True)
    return [one["readings"] for one in json.loads(done.stdout)["captures"]]


def main():
    with tempfile.TemporaryDirectory() as folder:
        paths = [os.path.join(folder, name) for name in ("a.wav", "a.csv", "short.csv")]
        work.wav(paths[0], 48000, 2, 2)
        work.csv(paths[1], 40000)
        work.csv(paths[2], 2500)
        for path in paths:
            mine = readings(os.environ["GAINWALK"], "measure", "--json", path)
            theirs = readings(sys.executable, "-W", "ignore", os.path.join(HERE, "script.py"), path)
            assert len(mine) == len(theirs) == 2
            for own, other in zip(mine, theirs):
                for key, tolerance in CLOSE.items():
                    value = own[key].get("value", own[key].get("below"))
                    if value is None and path == paths[2] and key in ("hum", "dropouts"):
                        continue  # the record is too short
                    if path == paths[2]:
                        tolerance *= 10  # in two cycles and a half, a slope that one fits and the other doesn't counts
                    print("%s %-12s %.9g %.9g" % (os.path.basename(path), key, value, other[key]))
                    assert math.isclose(value, other[key], rel_tol=0 if key in ("dc", "hum") else tolerance, abs_tol=tolerance), key
                assert abs(own["thd"]["value"] / 100 - other["thd"]) < 1e-4


main()
