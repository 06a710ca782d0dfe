"""The picture of a capture: nothing hidden by thinning, nothing covered, told in words too."""

import re
import subprocess
import sys
from xml.etree import ElementTree

import numpy as np

from circuits.captures.measured import Curve, Note, Panel
from circuits.captures.picture import picture, thinned

T = np.linspace(0.0, 10.0, 200_001)
SVG = "{http://www.w3.org/2000/svg}"


def wave_panel(*notes: Note) -> Panel:
    """A sine with one spike a single sample wide."""
    wave = np.sin(2 * np.pi * 5 * T)
    wave[123_456] = 7.0
    return Panel(
        title="A & B", x_label="time (s)", y_label="volts (V)",
        curves=(Curve(x=T, y=wave, style="data", label="a < b"),), notes=notes,
    )  # fmt: skip


def test_thinning_keeps_the_extremes_in_their_order() -> None:
    curve = wave_panel().curves[0]
    x, y = thinned(curve.x, curve.y)
    assert x.size < 2000
    assert y.max() == 7.0
    assert x[np.argmax(y)] == T[123_456]
    assert np.all(np.diff(x) > 0)


def test_file_is_whole_and_told_in_words() -> None:
    text = picture("swing <1>.csv", [wave_panel(Note(x=2.5, y=None, text="crossing"))])
    root = ElementTree.fromstring(text)
    told = root.findtext(f"{SVG}desc")
    assert told == (
        "A & B: volts (V) from \u22121 to 7 over time (s) from 0 to 10. Marked: crossing at 2.5."
    )
    assert root.findtext(f"{SVG}title") == "swing <1>.csv"
    assert "prefers-color-scheme: dark" in text
    shown = {one.text for one in root.iter(f"{SVG}text")}
    assert {"swing <1>.csv", "a < b", "crossing", "time (s)"} <= shown


def test_neighbouring_notes_do_not_cover_each_other() -> None:
    notes = [Note(x=5.0 + 0.1 * k, y=None, text="first crossing counted") for k in range(3)]
    text = picture("x", [wave_panel(*notes)])
    heights = re.findall(r'y="([0-9.]+)"[^>]*>first crossing counted', text)
    assert len(set(heights)) == 3


def test_what_cannot_be_drawn_leaves_a_picture() -> None:
    none = Panel(title="n", x_label="x", y_label="y", curves=())
    level = np.zeros(5)
    flat = Panel(title="f", x_label="x", y_label="y",
                 curves=(Curve(x=level, y=level, style="points"),))  # fmt: skip
    open_cells = Curve(x=np.arange(3.0), y=np.array([1.0, np.nan, 2.0]), style="data")
    holed = Panel(title="h", x_label="x", y_label="y", curves=(open_cells,))
    for panels in ([], [none], [flat], [holed]):
        text = picture("x", panels)
        ElementTree.fromstring(text)
        assert "nan" not in text.lower()


def test_no_plotting_library_is_waited_for() -> None:
    code = "import sys, circuits.captures.picture; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
