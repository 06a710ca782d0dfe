"""Preferred values (IEC 60063): what to fit for a computed resistor, capacitor or divider."""

from dataclasses import dataclass
from typing import Literal

from calc.calculator import require, routine
from calc.units import Farad, Ohm, Ratio
from circuits.preferred_values import best_pair, nearest, next_higher, next_lower

Series = Literal["E3", "E6", "E12", "E24", "E48", "E96", "E192"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PreferredResistor:
    """The preferred values about a resistance."""

    next_lower: Ohm
    nearest: Ohm
    next_higher: Ohm


@dataclass(frozen=True, slots=True, kw_only=True)
class PreferredCapacitor:
    """The preferred values about a capacitance."""

    next_lower: Farad
    nearest: Farad
    next_higher: Farad


@dataclass(frozen=True, slots=True, kw_only=True)
class PreferredDivider:
    """Two preferred resistors and the ratio that they make."""

    r_upper: Ohm
    r_lower: Ohm
    ratio: Ratio
    total: Ohm


@routine
def preferred_resistor(*, r: Ohm, series: Series = "E24") -> PreferredResistor:
    """Return the preferred values next to a computed resistance.

    Parameters
    ----------
    r : float
        Computed resistance [Ω].
    series : str
        Series of IEC 60063.

    Returns
    -------
    fitted : PreferredResistor
        The values at or below, nearest to, and at or above it.

    Raises
    ------
    OutOfRangeError
        If r lies outside anything that is made.

    Notes
    -----
    By search in the printed series

    References
    ----------
    IEC 60063:2015, preferred number series for resistors and capacitors.

    Examples
    --------
    >>> preferred_resistor(r=455.0)
    PreferredResistor(next_lower=430.0, nearest=470.0, next_higher=470.0)
    """
    require(r > 0, "preferred_resistor: r must be above zero")
    return PreferredResistor(
        next_lower=next_lower(r, series),
        nearest=nearest(r, series),
        next_higher=next_higher(r, series),
    )


@routine
def preferred_capacitor(*, c: Farad, series: Series = "E12") -> PreferredCapacitor:
    """Return the preferred values next to a computed capacitance.

    Parameters
    ----------
    c : float
        Computed capacitance [F].
    series : str
        Series of IEC 60063.

    Returns
    -------
    fitted : PreferredCapacitor
        The values at or below, nearest to, and at or above it.

    Raises
    ------
    OutOfRangeError
        If c lies outside anything that is made.

    Notes
    -----
    By search in the printed series

    References
    ----------
    IEC 60063:2015, preferred number series for resistors and capacitors.

    Examples
    --------
    >>> preferred_capacitor(c=1.3e-7)
    PreferredCapacitor(next_lower=1.2e-07, nearest=1.2e-07, next_higher=1.5e-07)
    """
    require(c > 0, "preferred_capacitor: c must be above zero")
    return PreferredCapacitor(
        next_lower=next_lower(c, series),
        nearest=nearest(c, series),
        next_higher=next_higher(c, series),
    )


@routine
def preferred_divider(
    *, ratio: Ratio, total_low: Ohm, total_high: Ohm, series: Series = "E24"
) -> PreferredDivider:
    """Return the two preferred resistors that come nearest to a divider's ratio.

    Parameters
    ----------
    ratio : float
        Wanted r_lower / (r_upper + r_lower) [1].
    total_low : float
        Least sum of both resistors; it sets the drain [Ω].
    total_high : float
        Greatest sum of both resistors; it sets the source resistance [Ω].
    series : str
        Series of IEC 60063.

    Returns
    -------
    fitted : PreferredDivider
        Both resistors, the ratio they make, and their sum.

    Raises
    ------
    OutOfRangeError
        If ratio is not between zero and one, or no pair of the series has its sum in the band.

    Notes
    -----
    By search in the printed series; of equally near pairs the one of the largest sum

    References
    ----------
    IEC 60063:2015, preferred number series for resistors and capacitors.

    Examples
    --------
    >>> preferred_divider(ratio=0.29, total_low=5e4, total_high=1.5e5)
    PreferredDivider(r_upper=39000.0, r_lower=16000.0, ratio=0.2909090909090909, total=55000.0)
    """
    pair = best_pair(ratio=ratio, total_low=total_low, total_high=total_high, series=series)
    return PreferredDivider(
        r_upper=pair.r_upper,
        r_lower=pair.r_lower,
        ratio=pair.ratio,
        total=pair.r_upper + pair.r_lower,
    )
