"""The page's style: the style sheet with the colours of the pictures filled in."""

from functools import lru_cache
from importlib.resources import files

from circuits.report.ink import DARK, LIGHT
from circuits.report.markup import Markup


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"    --{name}: {colour};\n" for name, colour in colours.items())


@lru_cache(maxsize=1)
def style() -> Markup:
    """Return the style sheet's text."""
    sheet = (files("circuits.report") / "style.css").read_text(encoding="utf-8")
    classes = "".join(
        f".s-{name} {{ stroke: var(--{name}); }} .f-{name} {{ fill: var(--{name}); }}\n"
        for name in LIGHT
    )
    filled = sheet.replace("LIGHT", _variables(LIGHT)).replace("DARK", _variables(DARK))
    return Markup(filled.replace("COLOURS", classes))
