"""Nothing unfinished is marked as such, no path of somebody's machine is left, text is UTF-8 with plain line ends."""

import os
import re

import tree

# Put together here, so that this file does not find itself.
MARKS = ["TO" + "DO", "FIX" + "ME", "XX" + "X", "HA" + "CK", "WI" + "P"]
PHRASES = ["not " + "implemented", "not yet " + "implemented", "coming " + "soon"]
PLACES = ["home", "root", "work", "Users", "tmp/" + "wt"]
PATTERNS = [
    (re.compile(r"\b(?:%s)\b" % "|".join(MARKS)), "an unfinished mark"),
    (re.compile("|".join(PHRASES), re.IGNORECASE), "something unfinished"),
    (re.compile(r"(?<![\w.$}/-])/(?:%s)/\w" % "|".join(PLACES)), "a path of somebody's machine"),
]
# Files whose bytes are the point.
AS_THEY_ARE = re.compile(r"\.(?:wav|w64|rf64|png|zip|csv|txt|bin|dat|case)$|/captures/|/corpus/|package-lock\.json$")


def text_problems(path, raw):
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        yield "%s:1: not UTF-8" % path
        return
    if "\r" in text:
        yield "%s:1: carriage returns" % path
    if text and not text.endswith("\n"):
        yield "%s:1: no line end at the end" % path
    for number, line in enumerate(text.split("\n"), 1):
        for pattern, why in PATTERNS:
            match = pattern.search(line)
            if match:
                yield "%s:%d: %s: %s" % (path, number, why, match.group(0))
        if line != line.rstrip() and not path.endswith(".md"):
            yield "%s:%d: blanks at the end of the line" % (path, number)


def problems(root):
    found = []
    for path in tree.kept_files(root):
        if AS_THEY_ARE.search(path):
            continue
        with open(os.path.join(root, path), "rb") as file:
            found += text_problems(path, file.read())
    return found


BAD = {
    "a mark": {"src/a.c": "/* " + MARKS[0] + ": later */\n"},
    "another": {"scripts/a": "# " + MARKS[2] + "\n"},
    "a phrase": {"src/a.c": '"This is Not ' + 'Implemented"\n'},
    "a path": {"README.md": "run " + "/ho" + "me/somebody/gainwalk\n"},
    "blanks at the end": {"src/a.c": "int a; \n"},
    "carriage returns": {"src/a.c": "int a;\r\n"},
    "no line end": {"src/a.c": "int a;"},
}
GOOD = {
    "names alike": {"src/a.c": 'mkstemp("/tmp/a-' + "XX" + 'XXXX");\nint to' + "do_count;\n"},
    "paths alike": {"README.md": "build/" + "work/a and $HOME/" + "work/a\n"},
    "captures as they are": {"tests/capture/captures/a.csv": "1,2 \r\n3,4"},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
