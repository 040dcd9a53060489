"""What the layout checks share: the files of the tree, C without its comments and strings, and a runner that first
shows that the check can fail."""

import os
import re
import subprocess
import sys
import tempfile

ROOT = os.environ.get("GAINWALK_ROOT") or os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))


def files(root, *folders, suffixes=(".c", ".h")):
    """Paths relative to `root` of all files under `folders` with one of `suffixes`, sorted."""
    found = []
    for folder in folders:
        for where, below, names in os.walk(os.path.join(root, folder)):
            below[:] = sorted(name for name in below if name not in ("__pycache__", "node_modules"))
            found += [os.path.relpath(os.path.join(where, name), root) for name in names if name.endswith(suffixes)]
    return sorted(found)


def kept_names(root):
    """Paths relative to `root` of what belongs to the project, links too: what git knows or would add, else all but
    builds."""
    try:
        listed = subprocess.run(["git", "-C", root, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
                                capture_output=True, check=True).stdout.decode().split("\0")
        found = [name for name in listed if name and os.path.lexists(os.path.join(root, name))]
    except (OSError, subprocess.CalledProcessError):
        found = []
    if not found:
        for where, below, names in os.walk(root):
            below[:] = [name for name in below if name not in (".git", "__pycache__", "node_modules")
                        and not (where == root and name.startswith("build"))]
            links = [name for name in below if os.path.islink(os.path.join(where, name))]
            found += [os.path.relpath(os.path.join(where, name), root) for name in names + links]
    return sorted(found)


def kept_files(root):
    """Those of them that are files."""
    return [name for name in kept_names(root) if os.path.isfile(os.path.join(root, name))]


def read(root, path):
    with open(os.path.join(root, path), encoding="utf-8", errors="replace") as file:
        return file.read()


PIECES = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'', re.DOTALL)


def bare(source, keep_strings=False):
    """C source without comments (and, unless kept, without what its strings hold); line numbers stay the same."""
    def blank(match):
        text = match.group(0)
        if text.startswith("/"):
            return " " + "\n" * text.count("\n")
        if keep_strings:
            return text
        return text[0] + text[-1]
    return PIECES.sub(blank, source)


def line_of(text, position):
    return text.count("\n", 0, position) + 1


def matches(root, path, pattern, keep_strings=False):
    """Every place in the bare source of `path` that matches, as (line, match)."""
    text = bare(read(root, path), keep_strings)
    return [(line_of(text, match.start()), match) for match in re.finditer(pattern, text)]


def plant(root, path, text):
    """Writes a file of a made-up tree; a link where the text is `-> target`."""
    full = os.path.join(root, path)
    os.makedirs(os.path.dirname(full), exist_ok=True)
    if text.startswith("-> "):
        os.symlink(text[3:], full)
        return
    with open(full, "w", encoding="utf-8") as file:
        file.write(text)


def caught(problems, tree):
    """The problems found in a made-up tree: {path: text}."""
    with tempfile.TemporaryDirectory() as folder:
        for path, text in tree.items():
            plant(folder, path, text)
        return problems(folder)


def run(problems, bad, good):
    """Shows on made-up trees that `problems(root)` can fail and can pass, then holds it against the project.
    `bad`: {name: tree}, each of which must be caught; `good`: the same, none of which may be."""
    for name, tree in bad.items():
        if not caught(problems, tree):
            sys.exit("self-test: not caught: " + name)
    for name, tree in good.items():
        found = caught(problems, tree)
        if found:
            sys.exit("self-test: false alarm: " + name + "\n" + "\n".join(found))
    found = problems(ROOT)
    for line in found:
        print(line)
    print("%d bad and %d good examples told apart; %d problems in the tree" % (len(bad), len(good), len(found)))
    sys.exit(1 if found else 0)
