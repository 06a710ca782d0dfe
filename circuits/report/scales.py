"""Scales of a chart: from figures to places on paper, and where the ticks stand."""

from dataclasses import dataclass
from math import ceil, floor, isfinite, log10

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Figures from `low` to `high` laid on a line from `start` to `end`."""

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def at(self, value: float) -> float:
        """Return the place of a figure."""
        return float(self.many(np.array([value]))[0])

    def many(self, values: Array) -> Array:
        """Return the places of many figures."""
        low, high = self.low, self.high
        if self.log:
            values, low, high = np.log10(np.maximum(values, 1e-300)), log10(low), log10(high)
        share = (values - low) / (high - low)
        return np.asarray(self.start + share * (self.end - self.start), dtype=np.float64)

    def ticks(self, most: int = 7) -> list[float]:
        """Return the figures that deserve a tick."""
        return _decades(self.low, self.high) if self.log else even(self.low, self.high, most)


def even(low: float, high: float, most: int) -> list[float]:
    """Return round figures, evenly spaced and no more than so many.

    Examples
    --------
    >>> even(-1.2, 3.1, 6)
    [-1.0, 0.0, 1.0, 2.0, 3.0]
    """
    step = step_of(low, high, most)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [float(f"{k * step:.12g}") for k in range(first, last + 1)]


def step_of(low: float, high: float, most: int) -> float:
    """Return the least step of 1, 2 or 5 that makes no more than so many ticks."""
    raw = (high - low) / max(most, 1)
    power = 10.0 ** floor(log10(raw))
    for factor in (1, 2, 5, 10):
        if factor * power >= raw * (1 - 1e-9):
            return factor * power
    return 10 * power


def _decades(low: float, high: float) -> list[float]:
    powers = range(floor(log10(low)), ceil(log10(high)) + 1)
    steps = (1, 2, 5) if log10(high / low) < 3 else (1,)
    found = [factor * 10.0**power for power in powers for factor in steps]
    return [float(f"{one:.6g}") for one in found if low * (1 - 1e-9) <= one <= high * (1 + 1e-9)]


def tick_text(value: float) -> str:
    """Return a tick's figure.

    Examples
    --------
    >>> tick_text(-0.5), tick_text(20000.0), tick_text(0.0)
    ('−0.5', '20000', '0')
    """
    shown = f"{value:.6g}"
    if "e" in shown:
        mantissa, _, power = shown.partition("e")
        shown = f"{mantissa}e{int(power)}"
    return shown.replace("-", "\u2212")


def padded(*curves: Array, room: float = 0.08, zero: bool = False) -> tuple[float, float]:
    """Return a span that holds every curve with some room, and zero if that is wanted."""
    low = min(float(np.min(curve)) for curve in curves)
    high = max(float(np.max(curve)) for curve in curves)
    if zero:
        low, high = min(low, 0.0), max(high, 0.0)
    if not (isfinite(low) and isfinite(high)):
        low, high = 0.0, 1.0
    width = high - low or abs(high) or 1.0
    lower = low if zero and low == 0 else low - room * width
    upper = high if zero and high == 0 else high + room * width
    return lower, upper


@dataclass(frozen=True, slots=True, kw_only=True)
class Handy:
    """A unit for an axis, and its size in the SI unit."""

    name: str
    size: float


PREFIXES = ((1e-12, "p"), (1e-9, "n"), (1e-6, "\u00b5"), (1e-3, "m"), (1.0, ""), (1e3, "k"))


def handy(largest: float, unit: str) -> Handy:
    """Return the prefix in which the largest figure of an axis reads best.

    Examples
    --------
    >>> handy(0.35, "V"), handy(4.6, "V")
    (Handy(name='mV', size=0.001), Handy(name='V', size=1.0))
    """
    size, prefix = PREFIXES[0]
    for one, name in PREFIXES:
        if largest >= one:
            size, prefix = one, name
    return Handy(name=f"{prefix}{unit}", size=size)
