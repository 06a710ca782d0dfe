"""Elements of a page: the one door through which text becomes HTML or SVG, escaped."""

import re
from html import escape

VOID = {"meta", "hr", "br", "link"}
"""Elements of HTML that have no end."""

UNREADABLE = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufdcf\ufdf0-\ufffd\U00010000-\U0010ffff]")
"""Characters that no document may hold."""

TURNING = re.compile(r"[\u202a-\u202e\u2066-\u2069\u200e\u200f\u061c]")
"""Characters that turn the direction of the text after them."""


class Markup(str):
    """Text that is markup already: only `tag` and `join` make it."""

    __slots__ = ()


def text(content: str) -> Markup:
    """Return text so that it stays text, whatever it holds.

    Examples
    --------
    >>> text('<b onclick="x">') + text("R1 & R2")
    '&lt;b onclick=&quot;x&quot;&gt;R1 &amp; R2'
    """
    return Markup(escape(TURNING.sub("", UNREADABLE.sub("\ufffd", content)), quote=True))


def _inside(child: "str | None") -> str:
    if child is None:
        return ""
    return child if isinstance(child, Markup) else text(child)


def tag(name: str, /, *children: "str | None", **attributes: "str | float | None") -> Markup:
    """Return an element; children that are no markup yet are escaped, None is left out.

    An attribute's underscores become hyphens, one at the end is dropped.

    Examples
    --------
    >>> tag("p", "a < b", tag("b", "!"), class_="note", stroke_width=1.50)
    '<p class="note" stroke-width="1.5">a &lt; b<b>!</b></p>'
    """
    head = name
    for key, value in attributes.items():
        if value is None:
            continue
        shown = value if isinstance(value, str) else number(value)
        head += f' {key.rstrip("_").replace("_", "-")}="{_inside(shown)}"'
    if name in VOID:
        return Markup(f"<{head}/>")
    return Markup(f"<{head}>{''.join(_inside(child) for child in children)}</{name}>")


def join(*children: "str | None") -> Markup:
    """Return several pieces one after another."""
    return Markup("".join(_inside(child) for child in children))


def number(value: float) -> str:
    """Return a coordinate as short as two decimals allow.

    Examples
    --------
    >>> number(12.0), number(0.126), number(-0.001)
    ('12', '0.13', '0')
    """
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown == "-0" else shown
