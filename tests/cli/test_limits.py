"""Every limit that DEVELOPERS.md states, from the program's outside: what is just within it is taken, what is beyond is refused
with a sentence that names the limit, status 2. Large files here are sparse: they take no room."""

import json
import os
import re
import resource
import subprocess
import tempfile
import unittest

PROGRAM = os.environ["GAINWALK"]
ROOT = os.environ["GAINWALK_ROOT"]
ROWS = b"".join(b"%d.0e-5,%d.25\n" % (i, i % 5) for i in range(100))


def sound(channels, frames=20, chunks=0):
    """A WAV file of 16-bit zeros, with `chunks` small chunks before its data."""
    fields = (1).to_bytes(2, "little") + channels.to_bytes(2, "little") + (48000).to_bytes(4, "little")
    fields += (96000 * channels).to_bytes(4, "little") + (2 * channels).to_bytes(2, "little") + (16).to_bytes(2, "little")
    body = b"WAVEfmt " + (16).to_bytes(4, "little") + fields + b"junk\0\0\0\0" * chunks
    body += b"data" + (2 * channels * frames).to_bytes(4, "little") + bytes(2 * channels * frames)
    return b"RIFF" + len(body).to_bytes(4, "little") + body


def chain(lines):
    return ("[chain]\ntitle = limits\nstimulus = sine 1 kHz\n" + lines).encode()


def points(count):
    return chain("".join("[point p%d]\nreading = 1 V\n%s" % (i, "stage = wire\n" if i else "") for i in range(count)))


class Limits(unittest.TestCase):
    def setUp(self):
        self.held = tempfile.TemporaryDirectory()
        self.folder = self.held.name

    def tearDown(self):
        self.held.cleanup()

    def run_on(self, command, name, data, size=None, stdin=None):
        """Runs a command on a file of that content, drawn out to `size` bytes."""
        path = os.path.join(self.folder, name)
        with open(path, "wb") as file:
            file.write(data)
            if size is not None:
                file.truncate(size)
        done = subprocess.run([PROGRAM, *command, path if stdin is None else stdin], capture_output=True, check=False,
                              input=data if stdin is not None else None)
        return done.returncode, done.stderr.decode()

    def refused(self, says, command, name, data, size=None, stdin=None):
        status, told = self.run_on(command, name, data, size, stdin)
        self.assertEqual(status, 2, told)
        self.assertIn(says, told)

    def taken(self, command, name, data, size=None, stdin=None):
        status, told = self.run_on(command, name, data, size, stdin)
        self.assertIn(status, (0, 1, 3), told)

    def test_text_capture_size(self):
        self.refused("up to 64 GiB are read", ["peek"], "a.csv", b"s,V\n" + ROWS, (64 << 30) + 1)

    def test_text_capture_wide_characters(self):
        wide = ("s,V\n" + ROWS.decode()).encode("utf-16")
        self.taken(["peek"], "a.csv", wide)
        self.refused("read up to 2 GiB", ["peek"], "a.csv", wide, (2 << 30) + 2)

    def test_text_capture_columns(self):
        def wide(count):
            rows = [[b"%d.0e-5" % i] + [b"%d.5" % ((i * k) % 7) for k in range(1, count)] for i in range(30)]
            return b"s" + b",V" * (count - 1) + b"\n" + b"".join(b",".join(row) + b"\n" for row in rows)
        self.taken(["peek"], "a.csv", wide(1024))
        self.refused("up to 1024 are read", ["peek"], "a.csv", wide(1025))

    def test_text_capture_rate(self):
        """One beyond is no rate: it must be given, and then is the one that counts."""
        for interval, fine in (("1e-13", True), ("1e6", True), ("9e-14", False), ("1.1e6", False), ("1e-25", False),
                               ("1e-320", False), ("1e300", False), ("1e308", False)):
            values = ["Sample Interval,%s,s\nCH1 (V),CH2 (V)\n" % interval]
            values += ["%d.25,%d.5\n" % (i % 5, i % 7) for i in range(300)]
            data = "".join(values).encode()
            status, told = self.run_on(["measure", "--reference", "1"], "a.csv", data)
            self.assertEqual(status, 0 if fine else 2, interval + told)
            self.assertEqual("no sample rate: it must be given" in told, not fine)
            self.taken(["measure", "--rate", "48kHz", "--reference", "1"], "a.csv", data)

    def test_text_capture_line(self):
        """One line of very many values is a capture."""
        line = b",".join(b"%d.5" % (i % 7) for i in range(300000))
        self.taken(["peek"], "a.csv", line + b"\n")
        longest = line + b" " * ((64 << 20) - len(line))
        self.taken(["peek"], "a.csv", longest + b"\n")
        says = "a line is too long: up to 64 MiB (67108864 bytes) are read"
        self.refused(says, ["peek"], "a.csv", longest + b" " * (2 << 20) + b"\n")
        self.refused(says, ["peek"], "a.csv", b"s,V\n" + ROWS + longest + b" " * (2 << 20))

    def test_text_capture_preamble(self):
        """Of text above the numbers the last 4000 lines are looked through."""
        self.taken(["peek"], "a.csv", b"x" * (2 << 20) + b"\ns,V\n" + b"note,none\n" * 4000 + ROWS)
        self.taken(["peek"], "a.csv", b"x" * ((2 << 20) - 10) + b"\ns,V\n" + ROWS)
        says = "too much text above the numbers: up to 2 MiB (2097152 bytes) of it are read"
        self.refused(says, ["peek"], "a.csv", b"x" * (2 << 20) + b"\ns,V\n" + ROWS)
        self.refused(says, ["peek"], "a.csv", (b"x" * 999 + b"\n") * 3999 + b"s,V\n" + ROWS)

    def test_standard_input(self):
        """A pipe is stopped by tests/faults/test_files.c, which need not send as much."""
        path = os.path.join(self.folder, "a.csv")
        for size, refused in (((4 << 30) + 1, True), (None, False)):
            with open(path, "wb") as file:
                file.write(b"s,V\n" + ROWS)
                if size is not None:
                    file.truncate(size)
            with open(path, "rb") as file:
                done = subprocess.run([PROGRAM, "peek", "-"], stdin=file, capture_output=True, check=False,
                                      env=dict(os.environ, TMPDIR=self.folder))
            self.assertEqual(done.returncode, 2 if refused else 0, done.stderr)
            self.assertEqual(b"-: too large: up to 4294967296 bytes of standard input are kept" in done.stderr, refused)
            self.assertEqual(os.listdir(self.folder), ["a.csv"])

    def test_size_of_files(self):
        """The user's own limit (ulimit -f) is no end without a word: what is too large is told, and the earlier file stays.

        (clang's OpenMP library needs a file of 1024 bytes for itself.)"""
        with open(os.path.join(self.folder, "a.ini"), "wb") as file:
            file.write(chain("[point a]\nreading = 1 V\n"))
        commands = (["walk", "a.ini", "--html", "kept", "--force"], ["walk", "a.ini", "--save", "kept", "--force"],
                    ["tone", "kept", "--force"],
                    ["walk", "--json", "a.ini", "a.ini", "a.ini"])
        for command in commands:
            with open(os.path.join(self.folder, "kept"), "wb") as file:
                file.write(b"earlier")
            with tempfile.TemporaryFile() as out:
                done = subprocess.run([PROGRAM, *command], stdout=out, stderr=subprocess.PIPE, cwd=self.folder, check=False,
                                      preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1024, 1024)))
            self.assertEqual(done.returncode, 2, command)
            self.assertIn(b"File too large", done.stderr)
            self.assertEqual(sorted(os.listdir(self.folder)), ["a.ini", "kept"])
            with open(os.path.join(self.folder, "kept"), "rb") as file:
                self.assertEqual(file.read(), b"earlier")

    @unittest.skipIf("GAINWALK_SANITIZED" in os.environ, "a sanitizer needs a larger stack by itself")
    def test_stack(self):
        """A stack that is too small is told; just enough is enough, for other threads too."""
        with open(os.path.join(self.folder, "a.csv"), "wb") as file:
            file.write(b"s,V\n" + ROWS)
        hard = resource.getrlimit(resource.RLIMIT_STACK)[1]
        for soft, most, status in ((65536, 65536, 2), (200000, 200000, 2), (65536, hard, 2), (262144, 262144, 0)):
            done = subprocess.run([PROGRAM, "measure", os.path.join(self.folder, "a.csv")], capture_output=True, check=False,
                                  preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_STACK, (soft, most)))
            self.assertEqual(done.returncode, status, (soft, most, done.stderr))
            self.assertEqual(b"stack is limited to less than 256 KiB" in done.stderr, status == 2)

    def test_sound_channels(self):
        self.taken(["peek"], "a.wav", sound(256))
        self.refused("256", ["peek"], "a.wav", sound(257))

    def test_sound_chunks(self):
        self.taken(["peek"], "a.wav", sound(1, chunks=1000))
        self.refused("more than 65536 chunks", ["peek"], "a.wav", sound(1, chunks=70000))

    def test_chain_size(self):
        filled = chain("[point a]\nreading = 1 V\n") + b"\n" * (4 << 20)
        self.refused("up to 4194304 bytes are read", ["walk"], "a.ini", filled)
        self.refused("up to 4194304 bytes are read", ["walk"], "a.ini", filled, stdin="-")
        self.taken(["walk"], "a.ini", filled[:4 << 20])
        self.taken(["walk"], "a.ini", filled[:4 << 20], stdin="-")

    def test_chain_line(self):
        """No limit of its own: a long value is a long value."""
        self.taken(["walk"], "a.ini", chain("note = %s\n[point a]\nreading = 1 V\n" % ("long " * 100000)))

    def test_chain_points(self):
        self.refused("more than 2000 points", ["walk", "--quiet"], "a.ini", points(2001))
        self.taken(["walk", "--quiet"], "a.ini", points(300))

    def test_chain_names(self):
        self.taken(["walk"], "a.ini", chain("[point %s]\nreading = 1 V\n" % ("n" * 40)))
        self.refused("longer than 40 bytes", ["walk"], "a.ini", chain("[point %s]\nreading = 1 V\n" % ("n" * 41)))

    def test_stage_parts(self):
        def mix(count):
            return chain("[point a]\nreading = 1 V\n[point b]\nreading = 1 V\nstage = mix rf=10k %s\n" % ("r=10k " * count))
        self.refused("more than 8 resistors", ["walk"], "a.ini", mix(9))

    def test_stages_in_a_circle(self):
        self.refused("after", ["walk"], "a.ini", chain("[point a]\nafter = b\nstage = wire\n[point b]\nafter = a\nstage = wire\n"))

    def record(self):
        own = os.path.join(self.folder, "own.ini")
        kept = os.path.join(self.folder, "own.json")
        with open(own, "wb") as file:
            file.write(chain("[point a]\nreading = 1 V\n"))
        subprocess.run([PROGRAM, "walk", "--quiet", "--force", "--save", kept, own], check=False, capture_output=True)
        with open(kept, "rb") as file:
            return file.read()

    def test_record_size(self):
        whole = self.record()
        self.taken(["walk"], "a.json", whole)
        self.refused("up to 268435456 bytes are read", ["walk"], "a.json", whole, (256 << 20) + 1)

    def test_record_nesting(self):
        """No recursion without a bound, wherever the nest stands."""
        nest = b"[" * 1000000
        self.refused("depth", ["walk"], "a.json", b'{"chains": ' + nest)
        held = json.loads(self.record())
        held["chains"][0]["more"] = None
        whole = json.dumps(held).encode()
        self.assertIn(b'"more": null', whole)
        self.refused("depth", ["walk"], "a.json", whole.replace(b'"more": null', b'"more": ' + nest + b"]" * 1000000))

    def test_list_size(self):
        path = os.path.join(self.folder, "a.txt")
        with open(path, "wb") as file:
            file.write(b"a.csv\n")
            file.truncate((1 << 30) + 1)
        done = subprocess.run([PROGRAM, "measure", "--from", path], capture_output=True, check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn("up to 1073741824 bytes are read", done.stderr.decode())

    def test_jobs(self):
        for word, fine in (("256", True), ("257", False), ("0", False), ("-1", False), ("1e9", False)):
            status, told = self.run_on(["measure", "--jobs", word], "a.csv", b"s,V\n" + ROWS)
            self.assertEqual(status == 0, fine, told)

    def test_tone_size(self):
        path = os.path.join(self.folder, "tone.wav")
        done = subprocess.run([PROGRAM, "tone", "--length", "9000s", path], capture_output=True, check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn("would exceed 256 MiB", done.stderr.decode())

    def test_each_stated_limit_is_here(self):
        with open(os.path.join(ROOT, "DEVELOPERS.md"), encoding="utf-8") as file:
            stated = re.findall(r"^\| .* \| `(test_\w+)` \|$", file.read().split("## Limits")[1].split("\n## ")[0], re.M)
        mine = [name for name in dir(self) if name.startswith("test_") and name != "test_each_stated_limit_is_here"]
        self.assertEqual(sorted(stated), sorted(mine))


if __name__ == "__main__":
    unittest.main()
