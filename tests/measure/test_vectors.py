"""The inner loops are made of vector instructions, and come in wider forms that are chosen when the program starts."""

import os
import platform
import re
import shutil
import subprocess
import sys

PROGRAM = os.environ["GAINWALK"]
LOOPS = ("group_dot", "group_add", "gw_gram_dot", "halve", "normal_add")
WIDE = re.compile(r"v(?:mul|add|fmadd\w*)pd.*%ymm")
WIDER, WIDEST = ("group_dot", "group_add", "halve", "normal_add"), re.compile(r"v(?:mul|add)pd.*%zmm")


def listing():
    done = subprocess.run(["objdump", "-d", "--no-show-raw-insn", PROGRAM], capture_output=True, text=True, check=True)
    found, name = {}, None
    for line in done.stdout.splitlines():
        if line.endswith(">:"):
            name = line.split("<")[1][:-2]
        elif name:
            found.setdefault(name, []).append(line)
    return found


def made_by_clang():
    """Compilers sign what they make; clang makes one form only."""
    done = subprocess.run(["objdump", "-s", "-j", ".comment", PROGRAM], capture_output=True, text=True, check=True)
    text = "".join(line[-16:] for line in done.stdout.splitlines() if re.match(r" [0-9a-f]{4} ", line))
    assert "GCC" in text or "clang" in text, "no compiler signed the program"
    return "clang" in text


def main():
    if platform.machine() != "x86_64" or not shutil.which("objdump"):
        print("no x86-64, or objdump is missing")
        sys.exit(77)
    if made_by_clang():
        print("this compiler makes one form only")
        sys.exit(77)
    code = listing()
    for loop in LOOPS:
        wide = [line for line in code.get(loop + ".avx2", []) if WIDE.search(line)]
        assert len(wide) >= 4, "%s has no wide form" % loop
        plain = [line for line in code.get(loop + ".default", []) if re.search(r"(?:mul|add)pd ", line)]
        assert len(plain) >= 4, "%s is not made of vectors" % loop
        assert not any("%ymm" in line for line in code[loop + ".default"])
        for form in (".avx2", ".avx512f"):
            assert not any("fmadd" in line for line in code[loop + form]), "%s would round otherwise than its plain form" % loop
    for loop in WIDER:
        widest = [line for line in code.get(loop + ".avx512f", []) if WIDEST.search(line)]
        assert len(widest) >= 4, "%s has no widest form" % loop


main()
