"""Reports of the examples and of invented designs, each computed once."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

from circuits.design import Design
from circuits.design_file import parse_design, read_design
from circuits.pipeline import compute_whole
from circuits.report.report import report
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass

ROOT = Path(__file__).parents[3]
EXAMPLES = ("foyer_sculpture", "school_pendulum", "balance")
SVG = "{http://www.w3.org/2000/svg}"

HEADINGS = (
    "Will it go?",
    "What to look at first",
    "The story of one beat",
    "Parts",
    "At the bench",
    "Cautions",
    "Assumed, because the design file does not say",
)
EXTRA = ("Templates in true size", "For whoever keeps it running")

HOSTILE = """
[design]
title = "</title><script>window.hit = 1</script> & 'quoted'"
note = "<img src=x onerror='window.hit = 2'> ]]> &amp; <b>bold</b>"

[movement]
kind = "pendulum"
period = "1.34 s"
arc = "4 deg"
mass = "430 g"
magnet_radius = "420 mm"
quality_factor = 900

[magnet]
shape = "cylinder"
diameter = "12 mm"
height = "6 mm"
remanence = "1.25 T"
gap = "5 mm"

[coil]
use = "shared"
turns = 1100
inner_diameter = "10 mm"
outer_diameter = "27 mm"
height = "8 mm"

[supply]
cell = "LR14"
series = 3
"""
"""An invented design whose title and note would run, were they not text."""

HOSTILE_PART = "<svg onload=window.hit=3>&amp;"


@cache
def whole(name: str) -> tuple[Design, Sheet, StagePass]:
    """Return design, sheet and stages of an example, or of the hostile file."""
    if name == "hostile":
        design = parse_design(HOSTILE, "hostile.toml")
    else:
        design = read_design(ROOT / "examples" / f"{name}.toml")
    sheet, done = compute_whole(design)
    if name == "hostile":
        # The file's own door refuses such a part name; the page must not rely on it.
        parts = tuple(
            replace(part, part=HOSTILE_PART) if part.reference == "D1" else part
            for part in sheet.parts
        )
        sheet = replace(sheet, parts=parts)
    return design, sheet, done


@cache
def page_of(name: str, *, extra: bool = False) -> str:
    """Return the report of an example, with the pages on demand where they are wanted."""
    return report(*whole(name), templates=extra, keeper=extra)


def parsed(page: str) -> ElementTree.Element:
    """Return a page as a tree: it is well-formed XML too."""
    return ElementTree.fromstring(page.removeprefix("<!DOCTYPE html>\n"))


def text_of(element: ElementTree.Element) -> str:
    """Return what an element says, its blanks made plain."""
    return re.sub(r"\s+", " ", "".join(element.itertext())).strip()
