"""What a library must not do: touch the standard streams, end the process, depend on the locale, keep global state.
The program (src/cli/) may use the streams."""

import os
import re

import tree

STREAMS = (r"\b(?:stdout|stderr|stdin|printf|vprintf|puts|putchar|perror|psignal|getchar|gets|scanf)\b(?=\s*[(,;)])",
           "only src/cli/ touches the standard streams")
EVERYWHERE = [
    (r"\b(?:abort|_Exit|quick_exit|longjmp|signal)\s*\(", "no part of the program ends or jumps like this"),
    (r"(?<![_\w])assert\s*\(", "assert() ends the process; return an error (static_assert is fine)"),
    (r"\b(?:gets|strcpy|strcat|sprintf|vsprintf|strtok|alloca)\s*\(", "unbounded or not safe in threads"),
    (r"\b(?:rand|srand|localtime|gmtime|ctime|asctime|setenv|putenv)\s*\(", "not safe in threads"),
]
LIBRARY = [
    STREAMS,
    (r"\bexit\s*\(", "only src/cli/ decides how the process ends"),
    (r"\bsetlocale\s*\(", "the locale belongs to the program"),
]
# Reading and writing numbers by the locale's decimal sign: only base may, where it undoes it.
NUMBERS = [
    (r"\b(?:strto(?:d|f|ld)|atof|fscanf|sscanf)\s*\(", "reads numbers by the locale; gw_number_parse does not"),
]
NUMBER_FORMAT = re.compile(r'%(?![-+#0]*\d*\.0f)[-+#0]*(?:\d+|\*)?(?:\.(?:\d+|\*)?)?l?[fFeEgGaA](?![a-zA-Z])')  # %.0f has no decimal sign
# Data at file scope that can change.
GLOBAL = re.compile(r"^static\s+(?!inline\b)(?!_Thread_local\b)(?!const\b)[^(){};=]*?(?:=|;)", re.MULTILINE)


def rules_of(path):
    room = path.split(os.sep)[1]
    rules = list(EVERYWHERE)
    if room != "cli":
        rules += LIBRARY
    if room != "base":
        rules += NUMBERS
    return rules


def format_problems(root, path):
    if path.startswith(os.path.join("src", "base")):
        return
    for line, match in tree.matches(root, path, r'"(?:\\.|[^"\\\n])*"', keep_strings=True):
        if NUMBER_FORMAT.search(match.group(0).replace("%%", "")):
            yield "%s:%d: %%f and %%g follow the locale; gw_number_print does not" % (path, line)


def global_problems(root, path):
    text = tree.bare(tree.read(root, path))
    for match in GLOBAL.finditer(text):
        if not re.search(r"\bconst\b", match.group(0)):
            yield "%s:%d: data that can change at file scope" % (path, tree.line_of(text, match.start()))


def problems(root):
    found = []
    for path in tree.files(root, "src"):
        for pattern, why in rules_of(path):
            for line, match in tree.matches(root, path, pattern):
                found.append("%s:%d: %s: %s" % (path, line, match.group(0).strip(" ("), why))
        found += format_problems(root, path)
        found += global_problems(root, path)
    return found


BAD = {
    "printf in the library": {"src/walk/a.c": 'void f(void) { printf("x"); }\n'},
    "fprintf to a stream": {"src/base/a.c": 'void f(void) { fprintf(stderr, "x"); }\n'},
    "a stream handed on": {"src/base/a.c": "void f(void) { fflush(stdout); }\n"},
    "perror": {"src/capture/a.c": 'void f(void) { perror("x"); }\n'},
    "exit in the library": {"src/chain/a.c": "void f(void) { exit(2); }\n"},
    "abort anywhere": {"src/cli/a.c": "void f(void) { abort(); }\n"},
    "assert": {"src/chain/a.c": "void f(int a) { assert(a); }\n"},
    "strtod outside base": {"src/chain/a.c": "double f(char *a) { return strtod(a, 0); }\n"},
    "%g outside base": {"src/report/a.c": 'void f(char *a) { snprintf(a, 9, "%6.2f V", 1.0); }\n'},
    "strcpy": {"src/report/a.c": "void f(char *a, char *b) { strcpy(a, b); }\n"},
    "global state": {"src/report/a.c": "static int counter = 0;\n"},
    "global table that can change": {"src/report/a.c": "static const_like names[3];\n"},
}
GOOD = {
    "the program prints": {"src/cli/a.c": 'void f(void) { printf("x"); exit(1); }\n'},
    "snprintf and names alike": {"src/walk/a.c": 'void f(char *a) { snprintf(a, 9, "%d %% f %.0f", 1, 2.0); gw_text_printf(a); }\n'},
    "in a comment or string": {"src/walk/a.c": '/* printf(stderr) exit(1) */\nconst char *a = "printf(x) exit(1)";\n'},
    "static assertion": {"src/walk/a.c": '_Static_assert(1, "x");\nstatic_assert(1, "x");\n'},
    "constant tables": {"src/walk/a.c": "static const int a[] = {1};\nstatic int f(int a);\nstatic int f(int a) { return a; }\n"},
    "base reads numbers": {"src/base/number.c": 'double f(char *a) { return strtod(a, 0); }\n'},
}

if __name__ == "__main__":
    tree.run(problems, BAD, GOOD)
