"""Whole commands: what they print on standard output and standard error, and their exit status.

One file a case in tests/cli/cases/, plain text:

    about: what the case shows
    copy: samples/dead-stage          (any number) put into the scratch folder under its last name
    before: gainwalk new ...          (any number) run first in the same folder; any status but 2
    compare: json                     (optional) standard output is JSON: numbers may differ in their last digits
    compare: lines                    (optional) the same of a table: numbers may differ in their last digits, line by line
    run: gainwalk walk dead-stage/tarn.ini
    exit: 1
    == file broken.ini                (any number) written into the scratch folder before
    [chain]
    == stdout
    ...
    == stderr
    ...

Each case runs in a scratch folder of its own. Refresh what is expected with scripts/test --update cli/ (GAINWALK_UPDATE=1), then
read the difference before it is committed. Names on the command line choose cases.
"""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

ROOT = os.environ.get("GAINWALK_ROOT") or os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
PROGRAM = os.environ.get("GAINWALK")
CASES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "cases")
RELATIVE = 1e-6  # of a number in JSON: another compiler's last digits
UNCERTAIN = 1e-3  # of an uncertainty or bound: those are made of what is left when all else is taken off
# What of the caller's environment a command sees: which mutant lives, and the settings of the tools that a build has in it.
PASSED_ON = re.compile(r"GAINWALK_MUTANT.*|(?:A|L|T|UB)SAN_OPTIONS")


class Case:
    def __init__(self, path):
        self.path, self.name = path, os.path.basename(path)[:-len(".case")]
        self.keys, self.sections = [], []
        with open(path, encoding="utf-8", newline="") as file:
            lines = file.read().split("\n")
        if lines[-1] == "":
            lines.pop()
        for line in lines:
            if line.startswith("== "):
                self.sections.append((line[3:], []))
            elif self.sections:
                self.sections[-1][1].append(line)
            elif line:
                key, _, value = line.partition(":")
                self.keys.append((key, value.strip()))

    def all(self, key):
        return [value for name, value in self.keys if name == key]

    def one(self, key, default=None):
        return (self.all(key) or [default])[0]

    def text(self, section):
        for name, lines in self.sections:
            if name == section:
                return "".join(line + "\n" for line in lines)
        return ""

    def expect(self, status, stdout, stderr):
        """Writes the case anew with what came out."""
        lines = ["%s: %s" % pair for pair in self.keys if pair[0] != "exit"] + ["exit: %d" % status]
        for name, body in self.sections:
            if name not in ("stdout", "stderr"):
                lines += ["== " + name] + body
        for name, text in (("stdout", stdout), ("stderr", stderr)):
            if text:
                lines += ["== " + name] + text.rstrip("\n").split("\n")
        with open(self.path, "w", encoding="utf-8", newline="") as file:
            file.write("\n".join(lines) + "\n")


def run(case, program):
    """(exit status, standard output, standard error) of a case in its scratch folder."""
    with tempfile.TemporaryDirectory() as folder:
        for source in case.all("copy"):
            full = os.path.join(ROOT, source)
            target = os.path.join(folder, os.path.basename(source))
            if os.path.isdir(full):
                shutil.copytree(full, target)
            else:
                shutil.copy(full, target)
        for name, body in case.sections:
            if name.startswith("file "):
                path = os.path.join(folder, name[len("file "):])
                os.makedirs(os.path.dirname(path), exist_ok=True)
                with open(path, "w", encoding="utf-8", newline="") as file:
                    file.write("".join(line + "\n" for line in body))
        commands = [shlex.split(command) for command in case.all("before") + [case.one("run")]]
        for words in commands:
            if words[0] == "gainwalk":
                words[0] = program
        environment = {"PATH": os.path.dirname(program) + ":" + os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8",
                       "HOME": folder, **{name: os.environ[name] for name in os.environ if PASSED_ON.fullmatch(name)}}
        done = None
        for words in commands:
            if done is not None and done.returncode not in (0, 1, 3):
                raise RuntimeError("%s: a command before the one that counts failed: %s" % (case.name, done.stderr))
            done = subprocess.run(words, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, env=environment,
                                  timeout=60, check=False)
        return done.returncode, done.stdout.decode(), done.stderr.decode()


def alike(expected, found, key=""):
    """JSON values that are equal but for the last digits of numbers that are no counts."""
    if isinstance(expected, bool) or isinstance(found, bool):
        return expected is found
    if isinstance(expected, float) or isinstance(found, float):
        if not isinstance(expected, (int, float)) or not isinstance(found, (int, float)):
            return False
        allowed = UNCERTAIN if key in ("u95", "below") else RELATIVE
        return abs(expected - found) <= allowed * max(abs(expected), abs(found)) + 1e-9
    if isinstance(expected, dict) and isinstance(found, dict):
        return list(expected) == list(found) and all(alike(expected[name], found[name], name) for name in expected)
    if isinstance(expected, list) and isinstance(found, list):
        return len(expected) == len(found) and all(map(alike, expected, found, [key] * len(found)))
    return expected == found


def same_lines(expected, found):
    old, new = expected.split("\n"), found.split("\n")
    return len(old) == len(new) and all(map(same_line, old, new))


def same_output(case, found):
    expected = case.text("stdout")
    if case.one("compare") == "lines":
        return same_lines(expected, found)
    if case.one("compare") == "json" and expected:
        try:
            return alike(json.loads(expected), json.loads(found))
        except ValueError:
            return False
    return expected == found


NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def same_line(expected, found):
    """Lines that differ in nothing but the last digits of their numbers."""
    pairs = zip(NUMBER.findall(expected), NUMBER.findall(found))
    return NUMBER.sub("#", expected) == NUMBER.sub("#", found) and \
        all(abs(float(a) - float(b)) <= RELATIVE * max(abs(float(a)), abs(float(b))) + 1e-9 for a, b in pairs)


def keep_digits(expected, found):
    """What was found, but with the expected lines wherever those are the same."""
    import difflib
    old, new = expected.split("\n"), found.split("\n")
    for _, i1, i2, j1, j2 in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if i2 - i1 == j2 - j1:
            new[j1:j2] = [a if same_line(a, b) else b for a, b in zip(old[i1:i2], new[j1:j2])]
    return "\n".join(new)


def refresh(case, status, stdout, stderr):
    """Writes a case anew where it is wrong; last digits stay as they were."""
    if not judge(case, status, stdout, stderr):
        return
    case.expect(status, keep_digits(case.text("stdout"), stdout) if case.one("compare") else stdout, stderr)


def difference(name, expected, found):
    import difflib
    return "\n".join(difflib.unified_diff(expected.splitlines(), found.splitlines(), name + " expected", name + " found",
                                          lineterm="", n=1))


def judge(case, status, stdout, stderr):
    """What is wrong with an outcome, a list of texts."""
    problems = []
    if str(status) != case.one("exit"):
        problems.append("exit status %d, expected %s" % (status, case.one("exit")))
    if not same_output(case, stdout):
        problems.append(difference("stdout", case.text("stdout"), stdout) or "stdout differs in its line ends")
    if stderr != case.text("stderr"):
        problems.append(difference("stderr", case.text("stderr"), stderr) or "stderr differs in its line ends")
    return problems


def self_test():
    """The judge sees a wrong status, a wrong line, a wrong number, and nothing where nothing is wrong."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "a.case")
        with open(path, "w", encoding="utf-8") as file:
            file.write('run: a\ncompare: json\nexit: 1\n== stdout\n{"a": 1.5, "n": 3}\n== stderr\nx\n')
        case = Case(path)
        good = (1, '{"a": 1.5000000001, "n": 3}\n', "x\n")
        bad = [(0,) + good[1:], (1, '{"a": 1.51, "n": 3}\n', "x\n"), (1, '{"a": 1.5, "n": 4}\n', "x\n"), (1, "", "x\n"),
               (1, '{"n": 3, "a": 1.5}\n', "x\n"), good[:2] + ("",)]
        if judge(case, *good) or not all(judge(case, *outcome) for outcome in bad):
            sys.exit("self-test: the judge is blind")
        refresh(case, 1, '{"a": 1.5000000001, "n": 3}\n', "x\n")
        refresh(case, 1, '{"a": 1.5000000001,\n"n": 4}\n', "x\n")
        if Case(path).text("stdout") != '{"a": 1.5000000001,\n"n": 4}\n':
            sys.exit("self-test: a new line is not taken")
        refresh(Case(path), 1, '{"a": 1.5000000002,\n"n": 5}\n', "x\n")
        if Case(path).text("stdout") != '{"a": 1.5000000001,\n"n": 5}\n':
            sys.exit("self-test: last digits are not kept")
        if not same_lines("a,1.5\n", "a,1.5000000001\n") or same_lines("a,1.5\n", "a,1.51\n") or \
                same_lines("a,1.5\n", "b,1.5\n") or same_lines("a,1.5\n", "a,1.5\n\n"):
            sys.exit("self-test: a table's digits or words are not seen")
        case.expect(2, "new\n", "")
        if Case(path).text("stdout") != "new\n" or Case(path).one("exit") != "2":
            sys.exit("self-test: a refreshed case does not read back")


def self_test_surroundings():
    """A command sees the tools' settings, and nothing else that the caller happens to have set."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "a.case")
        with open(path, "w", encoding="utf-8") as file:
            file.write("run: env\nexit: 0\n")
        settings = ["ASAN_OPTIONS", "LSAN_OPTIONS", "TSAN_OPTIONS", "UBSAN_OPTIONS"]
        before = dict(os.environ)
        os.environ.update({name: "verbosity=0" for name in settings}, LANG="de_DE.UTF-8", GAINWALK_UPDATE="")
        try:
            _, printed, _ = run(Case(path), "/bin/true")
        finally:
            os.environ.clear()
            os.environ.update(before)
        names = {line.split("=")[0] for line in printed.splitlines()}
        if not names.issuperset(settings):
            sys.exit("self-test: a sanitizer's settings do not reach the program")
        if names & {"LANG", "GAINWALK_UPDATE"}:
            sys.exit("self-test: the caller's own surroundings reach the program")


def main():
    self_test()
    self_test_surroundings()
    if not PROGRAM:
        sys.exit("the program was not built")
    chosen = sys.argv[1:]
    failed, count = 0, 0
    for file in sorted(os.listdir(CASES)):
        case = Case(os.path.join(CASES, file)) if file.endswith(".case") else None
        if case is None or (chosen and case.name not in chosen):
            continue
        count += 1
        outcome = run(case, PROGRAM)
        if os.environ.get("GAINWALK_UPDATE") and outcome[0] in (0, 1, 2, 3):
            refresh(case, *outcome)
            continue
        problems = judge(case, *outcome)
        if problems:
            failed += 1
            print("== %s: %s\n$ %s\n%s\n" % (case.name, case.one("about", ""), case.one("run"), "\n".join(problems)))
    print("%d cases, %d failed" % (count, failed))
    sys.exit(1 if failed or not count else 0)


if __name__ == "__main__":
    main()
