"""What a capture or log has told: figures, findings, what to draw, what to write back."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Capture
from circuits.design import Design
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stage_pass import StagePass

Array = NDArray[np.float64]
Kind = Literal["ringdown", "emf", "drive", "log"]
SPAN = 2.0
"""Low and high stand so many standard deviations off: 95 of 100 such spans hold the truth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the maker says about the capture; None where nothing was said.

    `count` is beats or periods, `clock_error` the logger's own as a ratio, `held` the figure of a
    pass that is held while the two others are fitted, `winding` drive or pickup.
    """

    kind: Kind | None = None
    count: str | None = None
    clock_error: float | None = None
    shunt: float | None = None
    supply: float | None = None
    target: float | None = None
    held: str | None = None
    coil: str | None = None
    winding: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One line or row of points of a picture; `style` is data, fit, points, level or odd."""

    x: Array
    y: Array
    style: str
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something found, marked in a picture: a text at a point, or at an upright line."""

    x: float
    y: float | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One pair of axes of the picture."""

    title: str
    x_label: str
    y_label: str
    curves: tuple[Curve, ...]
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """The design that the measurement is held against: the file, and the stages' results."""

    design: Design
    done: StagePass


@dataclass(slots=True, kw_only=True)
class Measured:
    """Everything one capture has told; the kinds' readers fill it."""

    capture: Capture
    kind: Kind
    why: str
    ledger: Ledger = field(default_factory=Ledger)
    panels: list[Panel] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)

    def figure(
        self, id: str, value: float, unit: str, words: str, rule: str, sigma: float | None = None,
        low: float | None = None, high: float | None = None,
    ) -> None:  # fmt: skip
        """Enter a measured figure with its span of two standard deviations."""
        if sigma is not None:
            low, high = value - SPAN * sigma, value + SPAN * sigma
        self.ledger.value(
            id, value, unit, words=words, basis=Basis.MEASURED, rule=rule, low=low, high=high
        )

    def text(self, id: str, value: str, words: str, rule: str) -> None:
        """Enter a measured fact in words."""
        self.ledger.value(id, value, None, words=words, basis=Basis.MEASURED, rule=rule)

    def good(self, id: str, text: str) -> None:
        """Say something that needs no action."""
        self.ledger.say(id, Severity.GOOD, text)

    def mind(self, id: str, text: str, remedy: str = "") -> None:
        """Say something worth minding."""
        self.ledger.say(id, Severity.MIND, text, remedy=remedy)

    def unknown(self, id: str, text: str, remedy: str) -> None:
        """Say what this capture cannot tell, and how to measure it."""
        self.ledger.say(id, Severity.MEASURE, text, remedy=remedy)

    def change(self, section: str, key: str, text: str) -> None:
        """Note what goes into the copy of the design file."""
        self.changes.append(Change(section=section, key=key, text=text))
