"""The top of the tree holds what the design lists and nothing else; so does tests/. No link is kept: it leads nowhere on
another machine."""

import os

import tree

FOLDERS = {"src", "include", "tests", "samples", "scripts", ".ci"}
FILES = {"README.md", "DEVELOPERS.md", "CMakeLists.txt", ".clang-format", ".clang-tidy", ".editorconfig", ".gitignore",
         ".gitattributes"}
TESTS = {"base", "capture", "measure", "chain", "walk", "record", "report", "cli", "standards", "reference", "browser",
         "fuzz", "campaign", "bench", "layout", "samples", "install", "faults", "builds"}


def problems(root):
    found = []
    for path in tree.kept_files(root):
        parts = path.split("/")
        if len(parts) == 1 and path not in FILES:
            found.append("%s:1: does not belong at the top" % path)
        if len(parts) > 1 and parts[0] not in FOLDERS:
            found.append("%s:1: the folder '%s' does not belong at the top" % (path, parts[0]))
        if len(parts) > 2 and parts[0] == "tests" and parts[1] not in TESTS:
            found.append("%s:1: tests/ has no folder '%s'" % (path, parts[1]))
    found += ["%s:1: a link" % path for path in tree.kept_names(root) if os.path.islink(os.path.join(root, path))]
    return sorted(found)


BAD = {
    "a stray file": {"notes.txt": "x\n"},
    "a stray folder": {"docs/a.md": "x\n"},
    "a stray hidden folder": {".tool/a": "x\n"},
    "a link to a folder": {"README.md": "x\n", "tests/base/packages": "-> /tmp"},
    "a link to nothing": {"README.md": "x\n", "src/base/a.c": "-> /nowhere/a.c"},
    "a folder of tests for nothing": {"tests/misc/test_a.c": "x\n"},
}
GOOD = {
    "the design": {"README.md": "x\n", "src/base/a.c": "x\n", "tests/base/test_a.c": "x\n", ".ci/run": "x\n",
                   "tests/assert_close.h": "x\n", "build/a.o": "x\n"},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
