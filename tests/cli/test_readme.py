"""What README.md and DEVELOPERS.md show is so: output pasted there is the program's own, the chain file shown is one, files and
commands that are named exist. GAINWALK_UPDATE=1 pastes the output anew.

    <!-- output: gainwalk walk a.ini -->              the indented block that follows is the whole output
    <!-- output up to 'Remarks': gainwalk walk a.ini -->   the output before the line that begins so
    <!-- chain file -->                               the indented block that follows is a chain file
"""

import os
import re
import shlex
import subprocess
import sys
import tempfile

ROOT = os.environ["GAINWALK_ROOT"]
PROGRAM = os.environ.get("GAINWALK")
MARKER = re.compile(r"<!-- output(?: up to '(?P<end>[^']*)')?: gainwalk (?P<command>.*?) -->\n\n(?P<block>(?:(?:    .*)?\n)*?(?=\S|\Z))")
CHAIN = re.compile(r"<!-- chain file -->\n\n(?P<block>(?:(?:    .*)?\n)+?(?=\S|\Z))")
NAMED = re.compile(r"`((?:src|include|tests|samples|scripts)/[\w./*<>-]*)`")
COMMAND = re.compile(r"(?:`|^    (?:build/)?)gainwalk ([a-z]+)\b", re.MULTILINE)


def output_of(command, end):
    run = subprocess.run([PROGRAM] + shlex.split(command), cwd=ROOT, capture_output=True, text=True, check=False)
    lines = run.stdout.rstrip("\n").split("\n")
    for number, line in enumerate(lines):
        if end and line.startswith(end):
            lines = lines[:number]
            break
    return "\n".join(lines).rstrip("\n")


def indented(text):
    return "".join(("    " + line if line else "") + "\n" for line in text.split("\n")) + "\n"


def output_problems(name, text):
    for match in MARKER.finditer(text):
        if indented(output_of(match.group("command"), match.group("end"))) != match.group("block"):
            yield "%s: not what 'gainwalk %s' prints (refresh: scripts/test --update readme)" % (name, match.group("command"))


def chain_problems(name, text):
    for match in CHAIN.finditer(text):
        with tempfile.TemporaryDirectory() as folder:
            with open(os.path.join(folder, "job.ini"), "w", encoding="utf-8") as file:
                file.write(re.sub(r"^    ", "", match.group("block"), flags=re.MULTILINE))
            run = subprocess.run([PROGRAM, "walk", "job.ini"], cwd=folder, capture_output=True, text=True, check=False)
            if run.returncode != 3 or run.stderr:  # nothing captured: incomplete, not refused
                yield "%s: the chain file shown gives %d: %s" % (name, run.returncode, run.stderr or run.stdout)


def name_problems(name, text):
    for match in NAMED.finditer(text):
        path = match.group(1)
        if "<" not in path and "*" not in path and not os.path.exists(os.path.join(ROOT, path)):
            yield "%s: there is no %s" % (name, path)
    for command in sorted(set(COMMAND.findall(text))):
        run = subprocess.run([PROGRAM, command, "--help"], capture_output=True, text=True, check=False)
        if run.returncode:
            yield "%s: there is no command '%s'" % (name, command)


def problems(name, text):
    return list(output_problems(name, text)) + list(chain_problems(name, text)) + list(name_problems(name, text))


def self_test():
    lies = ["<!-- output: gainwalk --version -->\n\n    gainwalk 99\n\nMore\n", "`src/nowhere/nothing.c`\n", "`gainwalk dance`\n",
            "<!-- chain file -->\n\n    [point A]\n    cpature = x\n\nMore\n"]
    truth = "<!-- output: gainwalk --version -->\n\n%sMore `src/base/error.c` and `gainwalk walk`\n" % indented(
        output_of("--version", None))
    for lie in lies:
        if not problems("self-test", lie):
            sys.exit("self-test: not caught: " + lie)
    if problems("self-test", truth):
        sys.exit("self-test: false alarm: %r" % problems("self-test", truth))


def main():
    if not PROGRAM:
        sys.exit("the program was not built")
    self_test()
    found = []
    for name in ("README.md", "DEVELOPERS.md", os.path.join("samples", "README.md")):
        path = os.path.join(ROOT, name)
        with open(path, encoding="utf-8") as file:
            text = file.read()
        if os.environ.get("GAINWALK_UPDATE"):
            fresh = MARKER.sub(lambda match: match.group(0)[:match.start("block") - match.start()] +
                               indented(output_of(match.group("command"), match.group("end"))), text)
            if fresh != text:
                with open(path, "w", encoding="utf-8") as file:
                    file.write(fresh)
            text = fresh
        found += problems(name, text)
    for line in found:
        print(line)
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
