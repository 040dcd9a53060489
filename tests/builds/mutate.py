"""Mutants of C sources: operators flipped one at a time, all in one build. Each place becomes
`(gw_mutant_is(17) ? (a >= b) : (a < b))`, and which of them lives is read from the environment once, at the start.

clang's syntax tree tells where operators and their operands stand and of what type they are. Left out, as no expression may
stand there or none is run: what a macro made, headers of loops under an OpenMP pragma, constants at file level, arithmetic of
pointers. On doubles a comparison is turned round, never moved by its one point of equality."""

import collections
import json
import os
import re
import subprocess

FLIPS = {"<": ["<=", ">="], "<=": ["<", ">"], ">": [">=", "<="], ">=": [">", "<"], "==": ["!="], "!=": ["=="], "&&": ["||"],
         "||": ["&&"], "+": ["-"], "-": ["+"], "*": ["/"], "/": ["*"], "%": ["*"], "&": ["|"], "|": ["&"], "<<": [">>"],
         ">>": ["<<"], "+=": ["-="], "-=": ["+="], "*=": ["/="], "/=": ["*="]}
TURNED = {"<": [">="], "<=": [">"], ">": ["<="], ">=": ["<"]}  # of doubles
SWITCH = """/* Which mutant lives: GAINWALK_MUTANT. Those that were asked for are noted in the file GAINWALK_MUTANTS_SEEN. */
#include <stdio.h>
#include <stdlib.h>
int gw_mutant;
unsigned char gw_mutants_seen[%d];
__attribute__((constructor)) static void choose(void) {
    const char *text = getenv("GAINWALK_MUTANT");
    gw_mutant = text != NULL ? atoi(text) : 0;
}
__attribute__((destructor)) static void note(void) {
    const char *path = getenv("GAINWALK_MUTANTS_SEEN");
    FILE *file = path != NULL ? fopen(path, "a") : NULL;
    for (int i = 1; file != NULL && i < (int)sizeof gw_mutants_seen; i++)
        if (gw_mutants_seen[i])
            fprintf(file, "%%d\\n", i);
    if (file != NULL)
        fclose(file);
}
"""
HEADING = ("extern int gw_mutant; extern unsigned char gw_mutants_seen[]; static inline int gw_mutant_is(int n) "
           "{ return (gw_mutants_seen[n] = 1) && gw_mutant == n; }\n#line 1\n")

Site = collections.namedtuple("Site", "path line function begin left_end right_begin end old new")


def syntax_tree(root, path, flags):
    told = subprocess.run(["clang", "-std=c17", "-fsyntax-only", "-w", *flags, "-Xclang", "-ast-dump=json",
                           os.path.join(root, path)], stdout=subprocess.PIPE, check=True).stdout
    return json.loads(told)


def span(node):
    """Where a node's text begins and ends, or None where a macro has a hand in it."""
    begin, end = node["range"]["begin"], node["range"]["end"]
    if "offset" not in begin or "offset" not in end:
        return None
    return begin["offset"], end["offset"] + end["tokLen"]


def flips_of(node):
    """What the operator of a node may become."""
    opcode = node.get("opcode")
    types = [part.get("type", {}).get("qualType", "") for part in node["inner"]]
    if any("*" in kind or "[" in kind for kind in types) and opcode in ("+", "-", "+=", "-=", "<", ">", "<=", ">="):
        return []
    floats = any(kind in ("double", "float", "long double", "const double", "const float") for kind in types)
    return (TURNED if floats else {}).get(opcode, FLIPS.get(opcode, []))


def under_a_pragma(text, at):
    """Whether the statement around is the header of a loop that OpenMP takes apart."""
    begin = text.rfind(b"\n", 0, at)
    before = text.rfind(b"\n", 0, begin)
    return text[begin + 1:at].lstrip().startswith(b"for") and text[before + 1:begin].lstrip().startswith(b"#pragma")


def operators(node, path, text, function, sites):
    kind = node.get("kind")
    if kind in ("BinaryOperator", "CompoundAssignOperator") and all(span(part) for part in [node, *node["inner"]]):
        (begin, end), (_, left_end), (right_begin, _) = span(node), span(node["inner"][0]), span(node["inner"][1])
        between = re.sub(rb"/\*.*?\*/|//[^\n]*", b"", text[left_end:right_begin], flags=re.S).strip(b" \t\r\n()")
        if between.decode() == node["opcode"] and not under_a_pragma(text, begin):
            for new in flips_of(node):
                sites.append(Site(path, text.count(b"\n", 0, begin) + 1, function, begin, left_end, right_begin, end,
                                  node["opcode"], new))
    if kind in ("CaseStmt", "EnumDecl", "StaticAssertDecl") or (kind == "VarDecl" and node.get("storageClass") == "static"):
        return  # constants
    for part in node.get("inner", []):
        operators(part, path, text, function, sites)


def sites_of(root, path, flags):
    """Every place of a source whose operator can be flipped, with each way of it."""
    with open(os.path.join(root, path), "rb") as file:
        text = file.read()
    sites = []
    for node in syntax_tree(root, path, flags).get("inner", []):
        has_body = any(part.get("kind") == "CompoundStmt" for part in node.get("inner", []))
        if node["kind"] == "FunctionDecl" and has_body and "includedFrom" not in node["loc"] and "offset" in node["loc"]:
            operators(node, path, text, node["name"], sites)
    return sites


def rendered(text, begin, end, sites):
    """The text from begin to end with its mutants in place: sites is [(number, site)], none twice at one place."""
    inside = [one for one in sites if begin <= one[1].begin and one[1].end <= end]
    inside.sort(key=lambda one: (one[1].begin, -one[1].end))
    out, at = b"", begin
    while inside:
        number, site = inside[0]
        left = rendered(text, site.begin, site.left_end, inside[1:])
        right = rendered(text, site.right_begin, site.end, inside[1:])
        between = text[site.left_end:site.right_begin]
        forms = [left + between.replace(site.old.encode(), which.encode(), 1) + right for which in (site.new, site.old)]
        out += text[at:site.begin] + b"(gw_mutant_is(%d) ? (%s) : (%s))" % (number, *forms)
        at = site.end
        inside = [one for one in inside if one[1].begin >= at]
    return out + text[at:end]


def rewrite(root, path, sites):
    """Puts the mutants of one source into the file at `path` below `root`."""
    with open(os.path.join(root, path), "rb") as file:
        text = file.read()
    with open(os.path.join(root, path), "wb") as file:
        file.write(HEADING.encode() + rendered(text, 0, len(text), sites))


def describe(root, site):
    """One line that tells a mutant, whatever its line's number: file, function, the expression, what it becomes."""
    with open(os.path.join(root, site.path), "rb") as file:
        text = file.read()
    left, right = text[site.begin:site.left_end], text[site.right_begin:site.end]
    words = " ".join((left + b" " + site.old.encode() + b" " + right).decode().split())
    return f"{site.path}: {site.function}: {words}: {site.old} as {site.new}"
