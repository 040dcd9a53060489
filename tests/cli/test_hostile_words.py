"""Words of others - file names, headings of captures, texts of a chain file, a record that somebody edited - in every form
of output: none sends a control sequence to a terminal, makes a tag of a page, or a formula of a table's cell, and nothing
is written but the outputs that were named."""

import csv
import html.parser
import json
import math
import os
import shutil
import subprocess
import tempfile
import unicodedata
import unittest

PROGRAM = os.environ["GAINWALK"]
ALARM_S = 120

# A terminal's sequences (ECMA-48: ESC [, ESC ], and CSI as one character), characters that turn the direction of writing,
# a tag, the end of an attribute, what table programs take for a formula, a path upwards, what printf would fill in.
FOUL = ["\x1b[2J", "\x1b]0;x\x07", "\u009b31m", "\u202e", "<script>alert(1)</script>", "\"'><img src=x onerror=y>", "=1+1", "+1",
        "-1+1", "@SUM(A1)", "|calc", "../../up", "%s%n%d", "\r", "\b\b"]
ALLOWED_CONTROL = "\n"
MARKUP = {"script", "img", "iframe", "object", "embed", "link", "base", "form"}


def sine(name, columns=1):
    rows = ["s," + ",".join([name] * columns)] if name else []
    for k in range(2000):
        value = f"{0.1 * math.sin(2 * math.pi * k / 50):.5f}"
        rows.append(f"{k * 2e-5:.6f}," + ",".join([value] * columns))
    return "\n".join(rows) + "\n"


class Tags(html.parser.HTMLParser):
    """The names of a page's tags and of their attributes."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.attributes = set(), set()
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes.update(name for name, _ in attrs)


class HostileWords(unittest.TestCase):
    def setUp(self):
        self.outer = tempfile.mkdtemp(prefix="gainwalk-hostile-")
        self.folder = os.path.join(self.outer, "a", "b")
        os.makedirs(self.folder)

    def tearDown(self):
        shutil.rmtree(self.outer)

    def write(self, name, text):
        with open(os.path.join(self.folder, name), "w", encoding="utf-8", newline="") as file:
            file.write(text)
        return name

    def read(self, name):
        with open(os.path.join(self.folder, name), encoding="utf-8", newline="") as file:
            return file.read()

    def run_on(self, *words):
        """Both streams of a command, of which no part may command a terminal."""
        done = subprocess.run([PROGRAM, *words], cwd=self.folder, stdin=subprocess.DEVNULL, capture_output=True, check=False,
                              timeout=ALARM_S)
        out, err = done.stdout.decode(), done.stderr.decode()
        self.assertIn(done.returncode, (0, 1, 2, 3), (words, err))
        self.no_commands(out, words)
        self.no_commands(err, words)
        return out, err

    def no_commands(self, text, where):
        """No control character and none that turns the writing around: Unicode's categories Cc and Cf."""
        for character in text:
            self.assertFalse(unicodedata.category(character) in ("Cc", "Cf") and character not in ALLOWED_CONTROL,
                             (where, hex(ord(character)), text[:400]))

    def no_markup(self, page):
        self.no_commands(page, "page")
        told = Tags(page)
        self.assertFalse(told.tags & MARKUP, told.tags)
        self.assertFalse([name for name in told.attributes if name.startswith("on")])

    def no_formula(self, table):
        self.no_commands(table.replace("\r\n", "\n"), "table")
        for row in csv.reader(table.splitlines()):
            for cell in row:
                try:
                    float(cell)
                except ValueError:
                    self.assertFalse(cell[:1] in tuple("=+-@|\t\r"), cell)

    def all_files(self):
        return {os.path.join(folder, name) for folder, _, names in os.walk(self.outer) for name in names}

    def outputs(self, *inputs):
        """A walk of the inputs in every form; whether it was judged at all."""
        named = {os.path.join(self.folder, name) for name in ("o.html", "o.csv", "o.json")}
        for path in named & self.all_files():
            os.remove(path)
        before = self.all_files()
        self.run_on("walk", "--html", "o.html", "--csv", "o.csv", "--save", "o.json", *inputs)
        written = self.all_files() - before
        self.assertIn(written, (set(), named), inputs)
        for form in (["--json"], ["--lines"], ["--quiet"]):
            told, _ = self.run_on("walk", *form, *inputs)
            if told and form != ["--quiet"]:
                json.loads(told)
        self.assertEqual(self.all_files() - before, written)
        if not written:
            return False
        self.no_markup(self.read("o.html"))
        self.no_formula(self.read("o.csv"))
        self.compared("o.json")
        return True

    def compared(self, record):
        self.run_on("compare", record, record)
        self.run_on("compare", "--json", record, record)
        self.run_on("compare", "--html", "c.html", "--csv", "c.csv", "--force", record, record)
        if os.path.exists(os.path.join(self.folder, "c.html")):
            self.no_markup(self.read("c.html"))
            self.no_formula(self.read("c.csv"))

    def test_texts_of_a_chain(self):
        self.write("in.csv", sine("CH1"))
        judged = 0
        for foul in FOUL:
            for key in ("title", "unit", "note"):
                chain = self.write("chain.ini", f"[chain]\n{key} = a{foul}\nstimulus = sine 1 kHz\n[point A]\ncapture = in.csv\n"
                                                "[point B]\nstage = wire\ncapture = in.csv\n")
                judged += self.outputs(chain)
            self.write("chain.ini", f"[chain]\nstimulus = sine 1 kHz\n[point {foul}]\nwhat = {foul}\ncapture = in.csv\n"
                                    "[point B]\nstage = wire\ncapture = in.csv\n")
            judged += self.outputs("chain.ini")
            self.run_on("explain", foul)
            self.run_on(foul)
        self.assertGreater(judged, 2 * len(FOUL))  # those with a control character in them are refused

    def test_names_of_files(self):
        for foul in FOUL:
            name = self.write(foul.replace("/", "_") + ".csv", sine("CH1"))
            other = self.write("z" + foul.replace("/", "_") + ".csv", sine("CH1"))
            self.assertTrue(self.outputs("./" + name, "./" + other))
            self.run_on("measure", "--csv", "m.csv", "--force", "--", name)
            self.no_formula(self.read("m.csv"))
            for words in (["peek"], ["peek", "--json"], ["measure"], ["measure", "--lines"]):
                self.run_on(*words, "--", name)
            self.run_on("walk", "--", name + ".absent")

    def test_headings_of_captures(self):
        for foul in FOUL:
            quoted = '"' + foul.replace('"', '""') + '"'
            one = self.write("one.csv", sine(quoted))
            both = self.write("both.csv", sine(quoted, columns=2))
            for words in (["peek"], ["peek", "--json"], ["measure"], ["measure", "--json"]):
                self.run_on(*words, one, both)
            self.run_on("measure", "--reference", "1", both)
            self.run_on("response", both)
            self.run_on("measure", "--csv", "m.csv", "--force", both)
            self.no_formula(self.read("m.csv"))
            self.outputs(one, one)

    def test_an_edited_record(self):
        """Whatever a text of a record was, it is foul now."""
        self.write("in.csv", sine("CH1"))
        chain = self.write("chain.ini", "[chain]\ntitle = one\nunit = two\nnote = three\nstimulus = sine 1 kHz\n[point A]\nwhat = x\n"
                                        "capture = in.csv\n[point B]\nstage = wire\ngain = 6 dB\ncapture = in.csv\n")
        self.run_on("walk", "--save", "good.json", chain)
        record = json.loads(self.read("good.json"))
        paths = text_paths(record)
        told = 0
        for index, path in enumerate(paths):
            edited = json.loads(json.dumps(record))
            put(edited, path, FOUL[index % len(FOUL)])
            self.write("foul.json", json.dumps(edited))
            before = self.all_files()
            told += bool(self.run_on("compare", "good.json", "foul.json")[0])
            self.assertEqual(self.all_files(), before)
        self.assertGreater(told, len(FOUL))
        for foul in FOUL:
            edited = json.loads(json.dumps(record))
            for path in paths:
                if path[-1] in ("title", "unit", "note", "what", "file", "name", "channel", "why", "program", "text"):
                    put(edited, path, foul)
            self.write("foul.json", json.dumps(edited))
            self.compared("foul.json")
            self.run_on("learn", "--output", "-", "foul.json")


def text_paths(value, path=()):
    """Where a document's strings stand."""
    if isinstance(value, str):
        return [path]
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [found for key, part in pairs for found in text_paths(part, path + (key,))]


def put(value, path, new):
    for key in path[:-1]:
        value = value[key]
    value[path[-1]] = new


if __name__ == "__main__":
    unittest.main()
