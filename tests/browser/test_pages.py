"""Reports of every sample, of hostile text and of a long chain, opened in a real browser.

Nothing may be loaded, nothing may stick out at 360, 800 and 1400 pixels, axe-core finds no violation, every figure of the
JSON stands in the page, and the job sheet fits one printed page. Pictures are kept in the build folder. Skipped (77)
where Node.js, Chromium or the modules (npm ci in tests/browser) are missing.
"""
import json
import math
import os
import pathlib
import shutil
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
ROOT = pathlib.Path(os.environ.get("GAINWALK_ROOT", HERE.parent.parent))
PROGRAM = os.environ.get("GAINWALK", "")
OUT = pathlib.Path(PROGRAM).resolve().parent / "browser" if PROGRAM else None
LARGEST = 2_000_000  # bytes of a report of 30 points
SKIPPED = 77

HOSTILE = "</title><script>alert(1)</script> \"'><img src=http://[::1]/x onerror=alert(2)>&lt;b&gt; \u202eevil\u202c"


def skip(why):
    print(f"skipped: {why}")
    sys.exit(SKIPPED)


def run(*words):
    """Runs the program; its exit status tells the verdict, only 2 is a failure."""
    done = subprocess.run([PROGRAM, *map(str, words)], capture_output=True, text=True, encoding="utf-8")
    assert done.returncode in (0, 1, 3), f"{words}: exit {done.returncode}\n{done.stderr}"
    return done.stdout


def save(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def walk(name, *chains):
    html, facts = OUT / f"{name}.html", OUT / f"{name}.json"
    run("walk", *chains, "--html", html, "--save", OUT / f"{name}-record.json", "--force", "--quiet")
    save(facts, run("walk", *chains, "--json"))
    return {"name": name, "html": str(html), "json": str(facts)}


def compare(name, before, after):
    html, facts = OUT / f"{name}.html", OUT / f"{name}.json"
    run("compare", before, after, "--html", html, "--force", "--quiet")
    save(facts, run("compare", before, after, "--json"))
    return {"name": name, "html": str(html), "json": str(facts)}


def samples():
    """A page for every sample, and one for each pair of before and after."""
    jobs = []
    for chain in sorted((ROOT / "samples").rglob("*.ini")):
        name = "-".join(chain.parent.relative_to(ROOT / "samples").parts)
        jobs.append(walk(name, chain))
    for after in sorted((ROOT / "samples").rglob("after")):
        name = "-".join(after.parent.relative_to(ROOT / "samples").parts)
        jobs.append(compare(f"{name}-compared", OUT / f"{name}-before-record.json", OUT / f"{name}-after-record.json"))
    return jobs


def sine(path, level, dc=0.0):
    """Five cycles of 1 kHz as a scope of 8 bits would write them."""
    step = level * math.sqrt(2) * 2.4 / 256
    lines = ["Time (s),CH1 (V)"]
    for i in range(1000):
        volts = dc + level * math.sqrt(2) * math.sin(2 * math.pi * i / 200)
        lines.append(f"{i * 5e-6:.6e},{round(volts / step) * step:.6e}")
    save(path, "\n".join(lines) + "\n")


def hostile():
    folder = OUT / "hostile-in"
    folder.mkdir(exist_ok=True)
    name = "<b>J1&amp;\"'"
    sine(folder / "a.csv", 0.1)
    sine(folder / "b.csv", 0.02)
    text = (f"[chain]\ntitle = {HOSTILE}\nunit = {HOSTILE}\nnote = {HOSTILE}\nstimulus = sine 1 kHz 100 mV\n"
            f"complaint = {HOSTILE}\ncaptures = .\n\n[point {name}]\nwhat = {HOSTILE}\ncapture = a.csv\n\n"
            f"[point {'W' * 40}]\nwhat = {'x' * 300}\nstage = amp\ngain = 20 dB\ncapture = b.csv\n")
    return walk("hostile", save(folder / "hostile.ini", text))


def long_chain():
    folder = OUT / "long-in"
    folder.mkdir(exist_ok=True)
    parts = ["[chain]\ntitle = Thirty points\nstimulus = sine 1 kHz 100 mV\ncaptures = .\n"]
    for i in range(30):
        sine(folder / f"p{i}.csv", 0.1 * (1 + 0.01 * i))
        stage = "" if i == 0 else "stage = wire\n" if i % 7 else "after = P3\nstage = wire\n"
        parts.append(f"[point P{i}]\nwhat = point number {i}\n{stage}capture = p{i}.csv\n")
    job = walk("long", save(folder / "long.ini", "\n".join(parts)))
    size = pathlib.Path(job["html"]).stat().st_size
    print(f"a report of 30 points has {size} bytes")
    assert size < LARGEST
    return job


def check_hostile(job):
    page = pathlib.Path(job["html"]).read_text(encoding="utf-8")
    assert "<script" not in page.lower(), "a script got in"
    assert "<img" not in page.lower(), "a picture got in"
    assert "\u202e" not in page, "a mark that turns the direction of writing got in"
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page, "the text is lost"


def main():
    node, browser = shutil.which("node"), os.environ.get("CHROMIUM") or shutil.which("chromium")
    if not PROGRAM or not os.path.exists(PROGRAM):
        skip("no program")
    if node is None or browser is None:
        skip("no Node.js or no Chromium")
    if not (HERE / "node_modules" / "puppeteer-core").is_dir() or not (HERE / "node_modules" / "axe-core").is_dir():
        skip("no modules: run npm ci in tests/browser")
    OUT.mkdir(exist_ok=True)
    two = sorted((ROOT / "samples").rglob("*.ini"))[:2]
    jobs = samples() + [walk("two-chains", *two), hostile(), long_chain()]
    check_hostile(jobs[-2])
    listed = save(OUT / "list.json", json.dumps(jobs))
    done = subprocess.run([node, HERE / "pages.mjs", listed, OUT], env={**os.environ, "CHROMIUM": browser})
    if done.returncode == 3:
        skip("Chromium does not start here")
    print(f"{len(jobs)} pages, pictures in {OUT}")
    return done.returncode


if __name__ == "__main__":
    sys.exit(main())
