"""The way through the rooms: a module includes only what stands to its left, and base; private headers stay in their
room, but for base's; each library is used in its one file; the program uses public headers only."""

import os
import re

import tree

ROOMS = ["base", "capture", "measure", "chain", "walk", "record", "report", "cli"]

# Who may include what comes from outside, beside the C library: header -> files or folders of src/.
OUTSIDE = {
    "sndfile.h": ["capture/wav.c"],
    "kiss_fft.h": ["measure/spectrum.c"],
    "kiss_fftr.h": ["measure/spectrum.c"],
    "kissfft/kiss_fft.h": ["measure/spectrum.c"],
    "kissfft/kiss_fftr.h": ["measure/spectrum.c"],
    "ini.h": ["chain/"],
    "jansson.h": ["base/tree.c", "base/tree.h", "report/", "record/"],
    "nettle/sha2.h": ["record/", "report/html.c"],
    "iconv.h": ["capture/"],
    "omp.h": ["cli/", "capture/", "measure/"],
}
INCLUDE = r'#\s*include\s*(?:"([^"\n]*)"|<([^>\n]*)>)'


def public_problem(room, header):
    """Why a file of `room` may not include gainwalk/`header`.h; None where it may."""
    if room == "cli":
        return None
    if header == "gainwalk":
        return "includes every room's header at once"
    if header not in ROOMS:
        return "there is no room '%s'" % header
    if ROOMS.index(header) > ROOMS.index(room):
        return "'%s' stands to the right of '%s'" % (header, room)
    return None


def private_problem(root, path, room, name):
    """Why `path` may not include the private header `name`; None where it may."""
    beside = os.path.normpath(os.path.join(os.path.dirname(path), name))
    below_src = os.path.normpath(os.path.join("src", name))
    for candidate in (beside, below_src):
        if os.path.isfile(os.path.join(root, candidate)):
            owner = candidate.split(os.sep)[1]
            shared = owner == "base" and room != "cli"
            return None if owner == room or shared else "'%s' is private to '%s'" % (name, owner)
    return "'%s' is neither a public header nor a private one of this room" % name


def outside_problem(path, name):
    base = os.path.basename(name)
    for header, owners in OUTSIDE.items():
        if header in (name, base):
            inside = path[len("src/"):]
            if not any(inside == owner or (owner.endswith("/") and inside.startswith(owner)) for owner in owners):
                return "<%s> belongs to %s" % (name, ", ".join(owners))
            return None
    return None


def source_problems(root):
    for path in tree.files(root, "src"):
        room = path.split(os.sep)[1]
        if room not in ROOMS:
            yield "%s:1: there is no room '%s'" % (path, room)
            continue
        for line, match in tree.matches(root, path, INCLUDE, keep_strings=True):
            name = match.group(1) or match.group(2)
            if name.startswith("gainwalk/"):
                problem = public_problem(room, name[len("gainwalk/"):-len(".h")])
            elif match.group(1):
                problem = private_problem(root, path, room, name)
            else:
                problem = outside_problem(path, name)
            if problem:
                yield "%s:%d: %s" % (path, line, problem)


def header_problems(root):
    for path in tree.files(root, "include"):
        room = os.path.basename(path)[:-len(".h")]
        for line, match in tree.matches(root, path, INCLUDE, keep_strings=True):
            name = match.group(1) or match.group(2)
            if room == "gainwalk" and name.startswith("gainwalk/"):
                continue
            if name.startswith("gainwalk/"):
                problem = public_problem(room, name[len("gainwalk/"):-len(".h")])
            else:
                problem = None if re.fullmatch(r"std\w+\.h", name) else "a public header needs only std*.h"
            if problem:
                yield "%s:%d: %s" % (path, line, problem)


def problems(root):
    return list(source_problems(root)) + list(header_problems(root))


BAD = {
    "to the right": {"src/measure/fit.c": '#include "gainwalk/walk.h"\n'},
    "all at once": {"src/measure/fit.c": '#include <gainwalk/gainwalk.h>\n'},
    "another's private header": {"src/walk/a.c": '#include "../chain/b.h"\n', "src/chain/b.h": "\n"},
    "base's private header from the program": {"src/cli/main.c": '#include "base/b.h"\n', "src/base/b.h": "\n"},
    "private from the program": {"src/cli/main.c": '#include "walk/b.h"\n', "src/walk/b.h": "\n"},
    "not there at all": {"src/walk/a.c": '#include "nothing.h"\n'},
    "libsndfile elsewhere": {"src/capture/csv.c": "#include <sndfile.h>\n"},
    "the transform elsewhere": {"src/measure/fit.c": "#  include <kiss_fftr.h>\n"},
    "the transform elsewhere, by folder": {"src/walk/fit.c": "#include <kissfft/kiss_fft.h>\n"},
    "JSON in the middle": {"src/walk/fit.c": "#include <jansson.h>\n"},
    "an unknown room": {"src/utils/a.c": "int a;\n"},
    "a header to the right": {"include/gainwalk/chain.h": '#include "gainwalk/walk.h"\n'},
    "a header that drags in a library": {"include/gainwalk/capture.h": "#include <sndfile.h>\n"},
}
GOOD = {
    "to the left": {"src/walk/a.c": '#include "b.h"\n#include "gainwalk/measure.h"\n#include <stdio.h>\n',
                    "src/walk/b.h": '#include "gainwalk/base.h"\n'},
    "base's private header": {"src/walk/a.c": '#include "base/b.h"\n', "src/base/b.h": "\n"},
    "private, by its room": {"src/walk/a.c": '#include "walk/b.h"\n', "src/walk/b.h": "\n"},
    "each in its place": {"src/capture/wav.c": "#include <sndfile.h>\n",
                          "src/measure/spectrum.c": "#include <kiss_fftr.h>\n"},
    "in a comment": {"src/walk/a.c": "/* #include <sndfile.h> */\n"},
    "the program": {"src/cli/main.c": "#include <gainwalk/gainwalk.h>\n"},
    "all of them": {"include/gainwalk/gainwalk.h": '#include "gainwalk/report.h"\n'},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
