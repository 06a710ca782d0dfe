"""The gate that reads every finished deck before it is written or run.

A simulator's deck language can run programs and read files. Nothing of the user's text enters a
deck, and this gate holds even if that rule is broken somewhere: it knows the few lines that our
decks need and refuses the rest.
"""

import re

from netlists.errors import UnsafeDeckError

TITLE = "coilwright deck"
ELEMENTS = frozenset("rlckvibdqms")
DIRECTIVES = frozenset(
    {".model", ".options", ".temp", ".ic", ".save", ".print", ".tran", ".ac", ".dc", ".op", ".end"}
)
MODEL_TYPES = frozenset({"npn", "pnp", "d", "sw", "nmos", "vdmos"})
OPTIONS = frozenset({"temp", "tnom", "reltol", "abstol", "vntol", "chgtol", "method", "gmin"})

_PLAIN = re.compile(r"[a-z0-9_ .,()=+\-*/<>?:&|!^]*\Z")
# A digit run followed by a letter other than an exponent would be read as a scale suffix.
_SUFFIX = re.compile(r"(?<![a-z0-9_.])(?:\d++\.?\d*+|\.\d++)(?:e[+-]?\d++)?+[a-z]+")
# Names of our own only: ngspice folds case and knows some, such as gnd, for the ground.
_ELEMENT = re.compile(r"[a-z][0-9]+\Z")
_NODE = re.compile(r"(?:0|n[1-9][0-9]*)\Z")
_MODEL = re.compile(r"\.model [a-z][a-z0-9_]* (?P<type>[a-z]+) ?(?:\(|\Z)")


def check_deck(deck: str) -> str:
    """Return the deck unchanged if every line of it is a plain circuit line.

    Parameters
    ----------
    deck : str
        The finished deck, title first, one ``.end`` last, closed by a line break.

    Returns
    -------
    deck : str
        The same text.

    Raises
    ------
    UnsafeDeckError
        Naming the first line that is not allowed and why.
    """
    lines = deck.split("\n")
    if lines[0] != TITLE:
        raise UnsafeDeckError(f"line 1: the title must be {TITLE!r}")
    if lines[-1] != "" or len(lines) < 3 or lines[-2] != ".end":
        raise UnsafeDeckError("the deck must close with .end and a line break")
    for number, line in enumerate(lines[1:-1], start=2):
        reason = _refusal(line, last=number == len(lines) - 1)
        if reason:
            raise UnsafeDeckError(f"line {number}: {reason}")
    return deck


def _refusal(line: str, *, last: bool) -> str:
    if not _PLAIN.match(line):
        return "only plain lower-case circuit text is allowed"
    word = line.split(" ", 1)[0]
    if not word:
        return "empty lines and leading blanks are not allowed"
    if word.startswith("."):
        return _directive_refusal(line, word, last=last)
    return _element_refusal(line, word)


def _element_refusal(line: str, word: str) -> str:
    if word[0] not in ELEMENTS:
        return f"no element begins with {word[0]!r}"
    if not _ELEMENT.match(word):
        return f"{word!r}: an element is a letter and a number"
    ends = line.split(" ")[1:3]
    if word[0] != "k" and not (len(ends) == 2 and all(_NODE.match(end) for end in ends)):
        return f"{' '.join(ends)!r}: nodes are 0, n1, n2 and so on"
    suffix = _SUFFIX.search(line[len(word) :])
    if suffix:
        return f"{suffix.group(0)!r}: numbers carry plain exponents, never a scale letter"
    return ""


def _directive_refusal(line: str, word: str, *, last: bool) -> str:
    if word not in DIRECTIVES:
        return f"{word} is not allowed"
    if (word == ".end") != last:
        return "there is one .end and it comes last"
    if word == ".model":
        model = _MODEL.match(line)
        if not model or model["type"] not in MODEL_TYPES:
            return "the model's type is not allowed"
    if word == ".options":
        names = {part.split("=")[0] for part in line.split()[1:]}
        if not names <= OPTIONS:
            return f"options {sorted(names - OPTIONS)} are not allowed"
    suffix = _SUFFIX.search(line)
    if suffix:
        return f"{suffix.group(0)!r}: numbers carry plain exponents, never a scale letter"
    return ""
