"""Preferred values of resistors and capacitors (IEC 60063): neighbours and divider pairs."""

from dataclasses import dataclass
from functools import cache
from math import isfinite

import numpy as np
from eseries import ESeries
from eseries import series as decade_of
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError, require
from calc.units import Ohm, Ratio

SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")

# From below a femtofarad to above a teraohm: nothing that is fitted lies outside.
_FIRST_DECADE, _LAST_DECADE = -18, 15

# Two floats this close are the same printed value: 0.1 * 3e3 is meant to be 300.
_SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A divider of two preferred values; `ratio` is r_lower / (r_upper + r_lower)."""

    r_upper: Ohm
    r_lower: Ohm
    ratio: Ratio


@cache
def _table(series: str) -> NDArray[np.float64]:
    if series not in SERIES:
        raise ValueError(f"preferred values: series {series!r} must be one of {', '.join(SERIES)}")
    decade = decade_of(ESeries[series])
    shift = len(str(decade[0])) - 1
    # Read as decimal text, so that 4k7 is 4700.0 and not a product with its own rounding.
    return np.array(
        [
            float(f"{digits}e{power - shift}")
            for power in range(_FIRST_DECADE, _LAST_DECADE)
            for digits in decade
        ]
    )


def _guard(value: float) -> None:
    low, high = 10.0**_FIRST_DECADE, 10.0 ** (_LAST_DECADE - 1)
    require(
        low <= value <= high,
        f"preferred values: value {value:g} must lie between {low:g} and {high:g}",
    )


def next_lower(value: float, series: str = "E24") -> float:
    """Return the largest preferred value at or below a value."""
    _guard(value)
    table = _table(series)
    return float(table[np.searchsorted(table, value * (1 + _SAME), side="right") - 1])


def next_higher(value: float, series: str = "E24") -> float:
    """Return the smallest preferred value at or above a value."""
    _guard(value)
    table = _table(series)
    return float(table[np.searchsorted(table, value * (1 - _SAME), side="left")])


def nearest(value: float, series: str = "E24") -> float:
    """Return the preferred value with the least difference; of two, the lower."""
    lower, higher = next_lower(value, series), next_higher(value, series)
    return lower if value - lower <= higher - value else higher


def is_preferred(value: float, series: str = "E24") -> bool:
    """Return whether a value stands in a series."""
    return next_lower(value, series) == next_higher(value, series)


def preferred_values(low: float, high: float, series: str = "E24") -> tuple[float, ...]:
    """Return every preferred value from low to high, both included, in rising order."""
    _guard(low)
    _guard(high)
    table = _table(series)
    first = np.searchsorted(table, low * (1 - _SAME), side="left")
    last = np.searchsorted(table, high * (1 + _SAME), side="right")
    return tuple(float(value) for value in table[first:last])


def best_pair(*, ratio: Ratio, total_low: Ohm, total_high: Ohm, series: str = "E24") -> Pair:
    """Return the two values whose divider comes nearest to a ratio within a band of totals.

    Of pairs that come equally near, the one with the largest total: it drains least.

    Parameters
    ----------
    ratio : float
        Wanted r_lower / (r_upper + r_lower), between zero and one.
    total_low, total_high : float
        Band of r_upper + r_lower, both ends included [Ω].
    series : str
        IEC 60063 series of both resistors.

    Raises
    ------
    OutOfRangeError
        If ratio is not between zero and one, or no pair of the series has its total in the band.
    """
    require(0 < ratio < 1, f"preferred pair: ratio {ratio:g} must lie between 0 and 1")
    require(
        0 < total_low <= total_high and isfinite(total_high),
        f"preferred pair: total_low {total_low:g} ohm must be above zero and not above"
        f" total_high {total_high:g} ohm",
    )
    table = _table(series)
    lower = table[(table > 1e-3 * ratio * total_low) & (table < total_high)]
    # The best partner is beside the ideal one, or beside the end of the band that excludes it.
    ideal = np.clip(lower * (1 / ratio - 1), total_low - lower, total_high - lower)
    beside = np.searchsorted(table, ideal)[:, None] + np.arange(-2, 3)
    upper = table[np.clip(beside, 0, table.size - 1)]
    total = upper + lower[:, None]
    inside = (total >= total_low * (1 - _SAME)) & (total <= total_high * (1 + _SAME))
    if not inside.any():
        raise OutOfRangeError(
            f"preferred pair: no two {series} values add to between {total_low:g} ohm and"
            f" {total_high:g} ohm near the ratio {ratio:g}; widen the band or use a finer series"
        )
    miss = np.where(inside, np.abs(lower[:, None] / total - ratio), np.inf)
    nearly = miss <= miss.min() + _SAME * ratio
    row, column = np.unravel_index(int(np.argmax(np.where(nearly, total, 0.0))), total.shape)
    r_upper, r_lower = float(upper[row, column]), float(lower[row])
    return Pair(r_upper=r_upper, r_lower=r_lower, ratio=r_lower / (r_upper + r_lower))
