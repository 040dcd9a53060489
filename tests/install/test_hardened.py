"""The program is built hardened, as its ELF says, and reproducibly: a second build, from a copy of the sources in another
folder, has the same code and data. The flags' meaning: Debian's Hardening wiki page and the ELF gABI (dynamic section)."""

import os
import re
import shutil
import subprocess
import sys
import tempfile

PROGRAM = os.environ.get("GAINWALK", "")
ROOT = os.environ["GAINWALK_ROOT"]


def read(*arguments):
    return subprocess.run(["readelf", "-W", *arguments], capture_output=True, text=True, check=True).stdout


def weaknesses(program):
    """What a program lacks, a list of sentences."""
    header, segments, dynamic, symbols = (read(o, program) for o in ("-h", "-l", "-d", "--dyn-syms"))
    stack = re.search(r"GNU_STACK.* ([RWE ]{3}) ", segments)
    checks = {"position independent (ET_DYN, PIE)": "DYN" in header and "PIE" in dynamic,
              "relocations read-only": "GNU_RELRO" in segments,
              "all symbols bound at the start": "BIND_NOW" in dynamic or re.search(r"Flags:.*NOW", dynamic) is not None,
              "stack not executable": stack is not None and "E" not in stack.group(1),
              "stack protected": "__stack_chk_fail" in symbols,
              "library calls fortified": re.search(r"__\w+_chk\b(?<!__stack_chk_fail)", symbols) is not None,
              "no search path for libraries": "RPATH" not in dynamic and "RUNPATH" not in dynamic}
    return [what for what, there in checks.items() if not there]


def notices(folder):
    """Self-test: a program built without any of it is found weak in each respect that flags decide."""
    source = os.path.join(folder, "weak.c")
    with open(source, "w", encoding="ascii") as file:
        file.write("#include <string.h>\nint main(int n, char **a) { char b[64]; strcpy(b, a[n - 1]); return b[0]; }\n")
    weak = source + ".out"
    subprocess.run(["gcc", "-no-pie", "-fno-stack-protector", "-U_FORTIFY_SOURCE", "-Wl,-z,norelro", "-Wl,-z,lazy",
                    "-z", "execstack", "-Wl,-rpath,/nowhere", source, "-o", weak], check=True, capture_output=True)
    return len(weaknesses(weak)) == 7


def settings():
    """How the program was configured."""
    with open(os.path.join(os.path.dirname(PROGRAM), "CMakeCache.txt"), encoding="utf-8") as file:
        return dict(re.findall(r"^(CMAKE_C_COMPILER|CMAKE_C_FLAGS|CMAKE_BUILD_TYPE):\w+=(.*)$", file.read(), re.M))


def build_again(folder):
    """The program built from a copy of the sources, elsewhere."""
    source, out = os.path.join(folder, "elsewhere", "copy"), os.path.join(folder, "out")
    os.makedirs(source)
    for name in ("src", "include"):
        shutil.copytree(os.path.join(ROOT, name), os.path.join(source, name))
    for name in ("CMakeLists.txt", "README.md"):
        shutil.copy(os.path.join(ROOT, name), source)
    configure = ["cmake", "-S", source, "-B", out, "-G", "Ninja", "-DBUILD_TESTING=OFF"]
    configure += [f"-D{name}={value}" for name, value in settings().items() if value]
    for command in (configure, ["cmake", "--build", out, "-j", "2", "--target", "gainwalk"]):
        run = subprocess.run(command, capture_output=True, text=True, check=False)
        if run.returncode:
            sys.exit(run.stdout + run.stderr)
    return os.path.join(out, "gainwalk")


def content(path, folder):
    """The bytes of a program without debug information and the hash over it: a compiler's cache may name sources by
    other relative paths there."""
    bare = os.path.join(folder, "bare")
    subprocess.run(["objcopy", "--strip-debug", "--remove-section=.note.gnu.build-id", path, bare], check=True)
    with open(bare, "rb") as file:
        return file.read()


def main():
    if not PROGRAM or not shutil.which("readelf") or not shutil.which("gcc"):
        print("the program or readelf is missing")
        sys.exit(77)
    with tempfile.TemporaryDirectory() as folder:
        if not notices(folder):
            sys.exit("self-test: a weak program passes")
        flags = settings().get("CMAKE_C_FLAGS", "")
        plain = "fsanitize" not in flags and "--coverage" not in flags
        lacking = weaknesses(PROGRAM) if plain else []
        again = content(build_again(folder), folder) if plain else content(PROGRAM, folder)
        if ROOT.encode() in again or folder.encode() in again:
            lacking.append("a folder of this machine stands in the program")
        if again != content(PROGRAM, folder):
            lacking.append("the second build differs from the first")
    print("\n".join(lacking))
    sys.exit(1 if lacking else 0)


if __name__ == "__main__":
    main()
