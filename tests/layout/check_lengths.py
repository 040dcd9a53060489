"""No function longer than 80 lines, no file longer than 500 (tests: 700), no line longer than 140 characters."""

import re

import tree

LONGEST_FUNCTION = 80
LONGEST_FILE = {"src": 500, "include": 500, "tests": 700, "samples": 500}
LONGEST_LINE = 140


def functions(source):
    """Every function's (name, first line, lines): a name and brackets before a brace at the outermost level.
    Lines count from the one that holds the name to the closing brace."""
    text = re.sub(r"^[ \t]*#(?:[^\n\\]|\\.|\\\n)*", lambda cut: "\n" * cut.group(0).count("\n"), tree.bare(source),
                  flags=re.MULTILINE)
    text = re.sub(r'extern\s*""\s*\{', lambda cut: "\n" * cut.group(0).count("\n"), text)
    found, depth, start, opened = [], 0, 0, None
    for position, character in enumerate(text):
        if character == "{":
            if depth == 0:
                head = re.search(r"(\w+)\s*\((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\)\s*$", text[start:position])
                opened = (head.group(1), start + head.start()) if head else None
            depth += 1
        elif character == "}" and depth > 0:
            depth -= 1
            if depth == 0:
                if opened:
                    first, last = tree.line_of(text, opened[1]), tree.line_of(text, position)
                    found.append((opened[0], first, last - first + 1))
                start = position + 1
        elif character == ";" and depth == 0:
            start = position + 1
    return found


def problems(root):
    found, lengths = [], []
    for folder, longest_file in LONGEST_FILE.items():
        for path in tree.files(root, folder):
            source = tree.read(root, path)
            lines = source.count("\n")
            if lines > longest_file:
                found.append("%s:1: %d lines, at most %d: find the seam" % (path, lines, longest_file))
            for number, line in enumerate(source.split("\n"), 1):
                if len(line) > LONGEST_LINE:
                    found.append("%s:%d: a line of %d characters" % (path, number, len(line)))
            for name, line, length in functions(source):
                lengths += [length] if folder == "src" else []
                if length > LONGEST_FUNCTION:
                    found.append("%s:%d: function '%s' has %d lines, at most %d" %
                                 (path, line, name, length, LONGEST_FUNCTION))
    if root == tree.ROOT and lengths:
        lengths.sort()
        print("%d functions in src: median %d lines, 90th percentile %d, longest %d" %
              (len(lengths), lengths[len(lengths) // 2], lengths[len(lengths) * 9 // 10], lengths[-1]))
    return found


def function(lines, head="int f(int a)"):
    return head + " {\n" + "    a++;\n" * (lines - 2) + "}\n"


BAD = {
    "81 lines": {"src/walk/a.c": function(81)},
    "81 lines behind a table": {"src/walk/a.c": "static const int t[] = {\n1,\n};\n" + function(81, "static bool gw_f(void (*g)(int))")},
    "81 lines in extern C": {"include/gainwalk/a.h": 'extern "C" {\n' + function(81, "static inline int f(int a)") + "}\n"},
    "81 lines in a test": {"tests/walk/test_a.c": function(81, "static void test_a(void **state)")},
    "brace on its own line": {"src/walk/a.c": "int f(int a)\n" + "{\n" + "a++;\n" * 79 + "}\n"},
    "braces in strings": {"src/walk/a.c": 'int f(int a) {\n char b = \'}\'; /* } */ const char *c = "}";\n' + "a++;\n" * 79 + "}\n"},
    "501 lines": {"src/walk/a.c": "int a;\n" * 501},
    "701 lines of test": {"tests/walk/test_a.c": "int a;\n" * 701},
    "a wide line": {"src/walk/a.c": "int " + "a" * 137 + ";\n"},
}
GOOD = {
    "80 lines": {"src/walk/a.c": function(80)},
    "two of 60": {"src/walk/a.c": function(60) + "\n" + function(60, "int g(int a)")},
    "a long table": {"src/walk/a.c": "static const int t[] = {\n" + "1,\n" * 200 + "};\n"},
    "500 lines": {"src/walk/a.c": "int a;\n" * 500},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
