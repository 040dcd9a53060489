"""Help, manual, completions, README and parser tell the same: every command, option, key, stage kind, reading and finding."""

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = os.environ["GAINWALK_ROOT"]
PROGRAM = os.environ.get("GAINWALK")


def run(*words, status=0, **more):
    done = subprocess.run(words, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL, **more)
    if status is not None and done.returncode != status:
        raise AssertionError("%s: exit %d\n%s%s" % (" ".join(words), done.returncode, done.stdout, done.stderr))
    return done.stdout


def page(name):
    return run(PROGRAM, "pages", name)


def plain(text):
    """A page's text without roff's marks."""
    for mark, meaning in ((r"\-", "-"), (r"\(aq", "'"), (r"\(ha", "^"), (r"\(ti", "~"), (r"\&", ""), (r"\fB", ""), (r"\fR", ""),
                          (r"\e", "\\")):
        text = text.replace(mark, meaning)
    return text


def commands():
    """Names from the help."""
    return re.findall(r"^  gainwalk (\w+)  ", run(PROGRAM, "--help"), re.MULTILINE)


def help_options(name):
    """{option: what it takes, or None}, from a command's help."""
    found = {}
    for option, argument in re.findall(r"^  --([a-z-]+)(?: (\S+))?  ", run(PROGRAM, name, "--help"), re.MULTILINE):
        found[option] = argument or None
    return found


ALL = {name: help_options(name) for name in commands()} if PROGRAM else {}
EVERY_OPTION = sorted({option for options in ALL.values() for option in options})


def words_of(section):
    """The words that `explain` lists in one of its sections."""
    text = run(PROGRAM, "explain")
    body = re.search(r"^%s:\n((?:  .*\n)+)" % section, text, re.MULTILINE)
    return [line.split()[0] for line in body.group(1).splitlines()]


class Help(unittest.TestCase):
    def test_found_all(self):
        self.assertGreaterEqual(len(ALL), 6)
        self.assertTrue({"walk", "measure", "peek", "new", "explain", "tone"} <= set(ALL))
        self.assertNotIn("pages", ALL)
        for options in ALL.values():
            self.assertTrue({"help", "version", "jobs", "quiet", "color"} <= set(options))

    def test_help_everywhere(self):
        for name in ALL:
            text = run(PROGRAM, name, "--help")
            self.assertTrue(text.startswith("gainwalk %s " % name))
            self.assertIn("\nExample:\n  gainwalk %s" % name, text)
            self.assertEqual(run(PROGRAM, "help", name), text)
            for line in text.splitlines():
                self.assertLessEqual(len(line), 110, line)

    def test_examples_parse(self):
        """No example of the help is refused for its words: what may fail is the files, which are not there."""
        with tempfile.TemporaryDirectory() as folder:
            for name in ALL:
                example = run(PROGRAM, name, "--help").split("Example:\n  ")[1].strip()
                if name == "watch":
                    continue  # waits; its options are tried below
                done = subprocess.run(["bash", "-c", example.replace("gainwalk", "'%s'" % PROGRAM, 1)], cwd=folder,
                                      capture_output=True, text=True, check=False)
                self.assertNotRegex(done.stderr, r"option|unknown|--help", example)

    def test_parser_takes_what_help_says(self):
        """With a bad value behind each option, the parser must never say that it does not know the option."""
        with tempfile.TemporaryDirectory() as folder:
            for name, options in ALL.items():
                for option in EVERY_OPTION:
                    words = [PROGRAM, name, "--" + option] + (["\x01"] if options.get(option, "x") else [])
                    # an option without a value at the very end tells whether it is known, and does no work
                    if options.get(option):
                        words = words[:-1]
                    elif option in options:
                        words[-1] += "=x"
                    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
                    self.assertEqual(done.returncode, 2, words)
                    if option not in options:
                        self.assertIn("unknown option '--%s'" % option, done.stderr)
                    else:
                        self.assertRegex(done.stderr, "needs a value" if options[option] else "takes no value")


class Manual(unittest.TestCase):
    def test_roff_is_clean(self):
        if not shutil.which("groff"):
            self.skipTest("groff is missing")
        for name in ("man", "man-chain"):
            done = subprocess.run(["groff", "-man", "-ww", "-k", "-Tutf8", "-z"], input=page(name), capture_output=True, text=True,
                                  check=False)
            self.assertEqual((done.returncode, done.stdout + done.stderr), (0, ""))

    def test_commands_and_options(self):
        text = page("man")
        sections = re.split(r"^\.SS ", text.split('.SH "COMMANDS"')[1], flags=re.MULTILINE)[1:]
        tail = sections[-1].split(".SH ")
        sections[-1], common = tail[0], plain(tail[1])
        found = {plain(section).split()[1]: plain(section) for section in sections}
        self.assertEqual(list(found), list(ALL))
        shared = re.findall(r"^--([a-z-]+)", common, re.MULTILINE)
        for name, section in found.items():
            own = re.findall(r"^--([a-z-]+)(?: (\S+))?$", section, re.MULTILINE)
            self.assertEqual({option for option, _ in own} | set(shared), set(ALL[name]), name)
            for option, argument in own:
                self.assertEqual(argument or None, ALL[name][option])
        for name in ALL:
            self.assertIn("gainwalk %s" % name, plain(text.split(".SH")[2]))

    def test_words(self):
        """Readings, findings and test signals in one page, keys and stage kinds in the other, all of those that `explain` lists."""
        pages = {"man": plain(page("man")), "man-chain": plain(page("man-chain"))}
        for section, name, title in (("Readings", "man", "READINGS"), ("Findings", "man", "FINDINGS"),
                                     ("Test signals", "man", "TEST SIGNALS"), ("Keys of the chain file", "man-chain", "KEYS"),
                                     ("Stage kinds", "man-chain", "STAGE KINDS")):
            body = pages[name].split('.SH "%s"' % title)[1].split('.SH "')[0]
            terms = [line.split()[0] for line in re.findall(r"^\.TP\n(.*)$", body, re.MULTILINE)]
            self.assertEqual(set(terms), set(words_of(section)), title)

    def test_readings_of_the_program(self):
        """The manual's readings are those that `measure` prints."""
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "a.wav")
            run(PROGRAM, "tone", "--length", "0.1s", path)
            readings = json.loads(run(PROGRAM, "measure", "--json", path))["captures"][0]["readings"]
        self.assertEqual(set(readings), set(words_of("Readings")))


class Chain(unittest.TestCase):
    def judge(self, text):
        """Standard error of a walk over a chain file."""
        with tempfile.TemporaryDirectory() as folder:
            with open(os.path.join(folder, "a.ini"), "w", encoding="utf-8") as file:
                file.write(text)
            return subprocess.run([PROGRAM, "walk", "a.ini"], cwd=folder, capture_output=True, text=True, check=False).stderr

    def keys(self):
        """(section, key, example) from the manual."""
        body = plain(page("man-chain")).split('.SH "KEYS"')[1].split('.SH "')[0]
        for part in re.split(r"^\.SS ", body, flags=re.MULTILINE)[1:]:
            section = re.match(r'"\[(\w+)', part).group(1)
            for key, example in re.findall(r"^\.TP\n(\S+) = (.*)$", part, re.MULTILINE):
                yield section, key, example

    def test_parser_takes_every_key(self):
        heads = {"chain": "[chain]\n%s\n[point A]\n[point B]\n", "instrument": "[instrument]\n%s\n[point A]\n",
                 "point": "[point J1]\n[point U1-7]\n[point A]\n%s\n", "rail": "[point A]\n[rail +15]\n%s\n"}
        found = list(self.keys())
        self.assertGreater(len(found), 30)
        for section, key, example in found:
            said = self.judge(heads[section] % ("%s = %s" % (key, example)))
            self.assertNotRegex(said, r"a\.ini:\d+:", "%s = %s" % (key, example))
        for section in heads:
            known = [key for where, key, _ in found if where == section]
            self.assertIn("a.ini:", self.judge(heads[section] % "colour = red"))
            for other in {key for _, key, _ in found} - set(known):
                self.assertIn("'%s'" % other, self.judge(heads[section] % (other + " = 1")), (section, other))

    def test_example_loads(self):
        body = page("man-chain").split('.SH "EXAMPLE"')[1].split(".nf\n")[1].split(".fi")[0]
        self.assertNotRegex(self.judge(plain(body).replace("    [", "[")), r"a\.ini:\d+:")


class Readme(unittest.TestCase):
    def test_readme(self):
        with open(os.path.join(ROOT, "README.md"), encoding="utf-8") as file:
            text = file.read()
        told = set(re.findall(r"gainwalk ([a-z]+)\b", "\n".join(re.findall(r"`[^`]+`|^    .*$", text, re.MULTILINE))))
        self.assertEqual(told - set(ALL), set(), "README tells of commands that there are not")
        self.assertEqual(set(ALL) - told, set(), "README leaves out commands")
        for line in re.findall(r"gainwalk ([a-z]+) ([^`\n]*)", text):
            for option in re.findall(r"--([a-z-]+)", line[1]):
                self.assertIn(option, ALL[line[0]], line)
        for option in re.findall(r"`--([a-z-]+)", text):
            self.assertIn(option, EVERY_OPTION)


class Completion(unittest.TestCase):
    def bash(self, words, cwd=None):
        """What bash offers behind `words`."""
        with tempfile.NamedTemporaryFile("w", suffix=".bash") as file:
            file.write(page("bash"))
            file.flush()
            script = 'source "$1"; shift; COMP_WORDS=(gainwalk "$@"); COMP_CWORD=$#; _gainwalk; printf "%s\\n" "${COMPREPLY[@]}"'
            return run("bash", "--norc", "-c", script, "bash", file.name, *words, cwd=cwd).split()

    def test_bash(self):
        self.assertEqual(set(self.bash([""])), set(ALL) | {"--help", "--version"})
        self.assertEqual(self.bash(["expl"]), ["explain"])
        for name, options in ALL.items():
            self.assertEqual(sorted(self.bash([name, "--"])), sorted("--" + option for option in options), name)
            for option, argument in options.items():
                if argument and "|" in argument:
                    self.assertEqual(self.bash([name, "--" + option, ""]), argument.split("|"))
        self.assertEqual(self.bash(["explain", "dc-sh"]), ["dc-shift"])
        self.assertEqual(self.bash(["tone", "pi"]), ["pink"])
        with tempfile.TemporaryDirectory() as folder:
            for name in ("a.csv", "b.wav"):
                with open(os.path.join(folder, name), "w", encoding="utf-8"):
                    pass
            os.mkdir(os.path.join(folder, "c"))
            self.assertEqual(sorted(self.bash(["walk", ""], folder)), ["a.csv", "b.wav", "c"])
            self.assertEqual(self.bash(["walk", "--csv", "a"], folder), ["a.csv"])
            self.assertEqual(self.bash(["new", "--from", ""], folder), ["c"])
            self.assertEqual(self.bash(["walk", "--mains", ""], folder), [])

    def test_zsh(self):
        """Each command's options stand in its own branch, with the choices; where there is zsh, it reads the file."""
        text = page("zsh")
        branches = dict(re.findall(r"^    (\w+)\)\n((?:        .*\n)+)", text, re.MULTILINE))
        self.assertEqual(list(branches), list(ALL))
        for name, branch in branches.items():
            found = re.findall(r"^\s+'--([a-z-]+)(=?)\[", branch, re.MULTILINE)
            self.assertEqual({option: bool(equals) for option, equals in found},
                             {option: bool(argument) for option, argument in ALL[name].items()})
        self.assertEqual(re.findall(r"^        '(\w+):", text, re.MULTILINE), list(ALL))
        if not shutil.which("zsh"):
            self.skipTest("zsh is missing")
        with tempfile.TemporaryDirectory() as folder:
            with open(os.path.join(folder, "_gainwalk"), "w", encoding="utf-8") as file:
                file.write(text)
            # zsh's own completion is run with its functions replaced by ones that print what they were given
            script = ("_arguments() { print -rl -- \"$@\" }; _describe() { print -rl -- \"${(@P)2}\" }; _files() { : }\n"
                      "words=(gainwalk walk --); CURRENT=3; source ./_gainwalk\n"
                      "words=(gainwalk ''); CURRENT=2; _gainwalk\n")
            said = run("zsh", "-f", "-c", script, cwd=folder)
            self.assertEqual({line.split("[")[0].rstrip("=")[2:] for line in said.splitlines() if line.startswith("--")},
                             set(ALL["walk"]))
            self.assertEqual({line.split(":")[0] for line in said.splitlines() if re.match(r"\w+:", line)}, set(ALL))


class Pages(unittest.TestCase):
    def test_refused(self):
        for words in ([], ["nothing"], ["man", "bash"]):
            run(PROGRAM, "pages", *words, status=2)

    def test_same_again(self):
        for name in ("man", "man-chain", "bash", "zsh"):
            self.assertEqual(page(name), page(name))
            self.assertNotIn("pages ", re.sub("gainwalk pages", "", page(name)).replace("manual pages", ""))


if __name__ == "__main__":
    if not PROGRAM:
        sys.exit("the program was not built")
    RESULT = unittest.main(exit=False).result
    sys.exit(77 if RESULT.wasSuccessful() and RESULT.skipped else not RESULT.wasSuccessful())
