"""Every public function is documented where it is declared: a comment right above it, or above the block of lines that
it stands in, or above the type whose functions follow it. `gw_x_free` needs none: the convention says all.
Public names begin with gw_, private ones that are not static too, static ones never; no two functions that are not static
share a name, in whatever room."""

import re

import check_lengths
import tree

DECLARED = re.compile(r"^(?!typedef\b|static\b|struct\b.*\{|#|extern \"C\")[A-Za-z_][\w\s*]*?\**\b(\w+)\s*\([^;{]*\)[^;{]*;", re.MULTILINE)


def documented(source, position):
    """Whether a comment stands in the block of lines above `position`, or the block before it is a documented type."""
    blocks = re.split(r"\n[ \t]*\n", source[:position].rstrip(" \t"))
    if "*/" in blocks[-1]:
        return True
    return len(blocks) > 1 and re.search(r"\*/\s*\ntypedef\b", blocks[-2]) is not None


def header_problems(root):
    for path in tree.files(root, "include"):
        source = tree.read(root, path)
        # comments blanked out character by character, so that positions stay those of the source
        text = tree.PIECES.sub(lambda cut: re.sub(r"[^\n]", " ", cut.group(0)) if cut.group(0).startswith("/")
                               else cut.group(0), source)
        for match in DECLARED.finditer(text):
            name, line = match.group(1), tree.line_of(source, match.start())
            if not name.startswith("gw_"):
                yield "%s:%d: public name '%s' does not begin with gw_" % (path, line, name)
            elif not name.endswith("_free") and not documented(source, match.start()):
                yield "%s:%d: '%s' is not documented" % (path, line, name)


def name_problems(root):
    taken = {}
    for path in tree.files(root, "src", suffixes=(".c",)):
        if "/cli/" in path:
            continue
        source = tree.read(root, path)
        lines = tree.bare(source).split("\n")
        for name, line, _ in check_lengths.functions(source):
            head = " ".join(lines[max(0, line - 2):line])
            is_static = re.search(r"\bstatic\b[^;}]*\b%s\s*\(" % name, head) is not None
            if is_static and name.startswith("gw_"):
                yield "%s:%d: static function '%s' needs no prefix" % (path, line, name)
            if not is_static and not name.startswith("gw_"):
                yield "%s:%d: '%s' is visible outside and does not begin with gw_" % (path, line, name)
            if not is_static and name in taken:
                yield "%s:%d: '%s' is defined in %s too" % (path, line, name, taken[name])
            if not is_static:
                taken[name] = path


def problems(root):
    return list(header_problems(root)) + list(name_problems(root))


BAD = {
    "bare": {"include/gainwalk/a.h": "#endif\n\nint gw_a(int b);\n"},
    "bare, over lines": {"include/gainwalk/a.h": "\nbool gw_a(int b,\n          int c);\n"},
    "a comment further up": {"include/gainwalk/a.h": "/* About this file. */\n\nint gw_a(int b);\n"},
    "behind a bare type": {"include/gainwalk/a.h": "typedef struct gw_a {\n    int b;\n} gw_a;\n\nint gw_a_add(int b);\n"},
    "another prefix": {"include/gainwalk/a.h": "/* Adds. */\nint add(int b);\n"},
    "static with a prefix": {"src/walk/a.c": "static int gw_a(int b) {\n    return b;\n}\n"},
    "visible without a prefix": {"src/walk/a.c": "int add(int b) {\n    return b;\n}\n"},
    "the same name twice": {"src/walk/a.c": "/**/int gw_a(int b) {\n    return b;\n}\n",
                            "src/report/a.c": "int gw_a(int b) {\n    return b;\n}\n"},
}
GOOD = {
    "above": {"include/gainwalk/a.h": "/* Adds. */\nint gw_a(int b);\nint gw_b(int b);\n\n/* Names. */\nconst char *gw_c(int d);\n"},
    "behind its type": {"include/gainwalk/a.h": "/* A sum. */\ntypedef struct gw_a {\n    int b;\n} gw_a;\n\nint gw_a_add(int b);\n"},
    "free": {"include/gainwalk/a.h": "\nvoid gw_a_free(int *b);\n"},
    "a pointer to a function": {"include/gainwalk/a.h": "typedef struct s {\n    int (*f)(int a);\n} s;\n"},
    "names": {"src/walk/a.c": "static int add(int b) {\n    return b;\n}\n\nint gw_add(int b) {\n    return b;\n}\n"},
    "the program": {"src/cli/main.c": "int main(void) {\n    return 0;\n}\n"},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
