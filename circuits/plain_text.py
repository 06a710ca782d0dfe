"""What any text from outside must keep to before it is read further, and how it is quoted."""

import unicodedata

QUOTED = 64
"""Characters of a found text that a message repeats."""

UNREADABLE = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}


def shown(text: str) -> str:
    """Return a text as messages print it: short, on one line, nothing unprintable."""
    short = text if len(text) <= QUOTED else text[:QUOTED] + "…"
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in short) + '"'


def unreadable(text: str) -> str:
    """Return the first character that no text may hold, as U+XXXX, or nothing."""
    for character in text:
        if unicodedata.category(character) in UNREADABLE:
            return f"U+{ord(character):04X}"
    return ""
