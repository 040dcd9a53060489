"""assert_close is the only assertion for floating point numbers, and every test program asserts something."""

import tree

BANNED = [
    (r"\bassert_(?:not_)?(?:float|double)_\w+\s*\(", "accepts NaN and infinity; use assert_close"),
    (r"\bassert_(?:true|false)\s*\([^;]*\b(?:fabs|fabsf|fdim)\s*\(", "use assert_close"),
    (r"\bassert_(?:true|false)\s*\([^;]*(?<![<>!=])[!=]=\s*-?(?:\d+\.\d*|\.\d+|\d+e-?\d+)",
     "compares floating point numbers for equality; use assert_close"),
    (r"\bassert_(?:int|true|in_range)\w*\s*\([^;]*\(int\)\s*\(?[^;]*\b(?:round|lround|floor|ceil)\s*\(",
     "rounds before it compares; use assert_close"),
]
ASSERTS = r"\b(?:assert_\w+|fail_msg|fail|expect_\w+)\s*\("


def problems(root):
    found = []
    for path in tree.files(root, "tests", suffixes=(".c", ".h")):
        if path.endswith("assert_close.h"):
            continue
        for pattern, why in BANNED:
            for line, match in tree.matches(root, path, pattern):
                found.append("%s:%d: %s" % (path, line, why))
        if "/test_" in path and path.endswith(".c") and not tree.matches(root, path, ASSERTS):
            found.append("%s:1: a test that asserts nothing" % path)
    return found


BAD = {
    "cmocka's float": {"tests/walk/test_a.c": "void t(void **s) { assert_float_equal(a, b, 1e-9); }\n"},
    "cmocka's double": {"tests/walk/test_a.c": "void t(void **s) { assert_double_not_equal(a, b, 1e-9); }\n"},
    "by hand": {"tests/walk/test_a.c": "void t(void **s) { assert_true(fabs(a - b) < 1e-9); }\n"},
    "by hand, across lines": {"tests/walk/test_a.c": "void t(void **s) { assert_true(x &&\n fabs(a - b) < 1e-9); }\n"},
    "equality": {"tests/walk/test_a.c": "void t(void **s) { assert_true(a == 0.25); }\n"},
    "inequality, in a row": {"tests/walk/test_a.c": "void t(void **s) { assert_true(b && a != 1e-3); }\n"},
    "rounded": {"tests/walk/test_a.c": "void t(void **s) { assert_int_equal((int)round(a), 3); }\n"},
    "nothing": {"tests/walk/test_a.c": "int main(void) { return 0; }\n"},
}
GOOD = {
    "close": {"tests/walk/test_a.c": "void t(void **s) { assert_close(fabs(a), 1.0, 1e-9); assert_true(a < 0.5 && b == 0); }\n"},
    "a larger one chosen": {"tests/walk/test_a.c": "void t(void **s) { assert_true(f(fmax(a, 0.1))); }\n"},
    "integers": {"tests/walk/test_a.c": "void t(void **s) { assert_true(a == 2); assert_int_equal(a, 3); }\n"},
    "in a comment": {"tests/walk/test_a.c": "/* assert_float_equal(a) */ void t(void **s) { assert_null(s); }\n"},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
