"""The winding window: what it holds, how much of it is copper, how far turns build up."""

from dataclasses import dataclass
from math import floor

from calc.calculator import calculator, pi, require, routine, sqrt
from calc.units import Count, Metre, Ratio

# A window of exactly so many wires must not lose one to the last bit of a division.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowCapacity:
    """What a winding window holds when each layer lies square on the one below."""

    turns_per_layer: Count
    layers: Count
    n_turns: Count


def _window(r_inner: float, r_outer: float, height: float) -> None:
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(r_outer > r_inner, "winding: r_outer must be above r_inner")
    require(height > 0, "winding: height must be above zero")


@calculator
def fill_factor(
    *, n_turns: Ratio, d_wire: Metre, r_inner: Metre, r_outer: Metre, height: Metre
) -> Ratio:
    """Return the share of the winding window that is copper.

    Parameters
    ----------
    n_turns : float
        Number of turns [1].
    d_wire : float
        Bare diameter; with the diameter over the enamel, the share that is wire [m].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].
    height : float
        Height of the winding along its axis [m].

    Returns
    -------
    share : float
        Copper area over window area [1].

    Raises
    ------
    OutOfRangeError
        If a size is not above zero, or r_outer not above r_inner.

    Notes
    -----
    share = n_turns * pi / 4 * d_wire**2 / ((r_outer - r_inner) * height)

    References
    ----------
    Definition, no source needed.

    Examples
    --------
    >>> copper = fill_factor(
    ...     n_turns=1000.0, d_wire=0.2e-3, r_inner=0.005, r_outer=0.0125, height=0.008
    ... )
    >>> round(copper, 4)
    0.5236
    """
    require(n_turns > 0, "winding: n_turns must be above zero")
    require(d_wire > 0, "winding: d_wire must be above zero")
    _window(r_inner, r_outer, height)
    return n_turns * pi / 4 * d_wire**2 / ((r_outer - r_inner) * height)


@routine
def window_capacity(
    *, r_inner: Metre, r_outer: Metre, height: Metre, d_overall: Metre
) -> WindowCapacity:
    """Return the turns that a window holds in square, untwisted layers.

    Parameters
    ----------
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].
    height : float
        Height of the winding along its axis [m].
    d_overall : float
        Diameter of the wire over its enamel [m].

    Returns
    -------
    capacity : WindowCapacity
        Whole turns in a layer, whole layers, and their product.

    Raises
    ------
    OutOfRangeError
        If a size is not above zero, or r_outer not above r_inner.

    Notes
    -----
    By counting whole wires; held by test_capacity_encloses_the_window.

    Layers that nest in each other's grooves hold up to 15 % more; scatter winding holds less.

    References
    ----------
    Geometry, no source needed.

    Examples
    --------
    >>> window_capacity(r_inner=0.005, r_outer=0.0125, height=0.008, d_overall=0.226e-3)
    WindowCapacity(turns_per_layer=35, layers=33, n_turns=1155)
    """
    _window(r_inner, r_outer, height)
    require(d_overall > 0, "winding: d_overall must be above zero")
    turns_per_layer = floor(height / d_overall * (1 + _ROUNDING))
    layers = floor((r_outer - r_inner) / d_overall * (1 + _ROUNDING))
    return WindowCapacity(
        turns_per_layer=turns_per_layer, layers=layers, n_turns=turns_per_layer * layers
    )


@calculator
def outer_radius_of_turns(
    *, n_turns: Ratio, d_overall: Metre, r_inner: Metre, height: Metre, packing: Ratio
) -> Metre:
    """Return how far a winding of known turns builds up.

    Parameters
    ----------
    n_turns : float
        Number of turns [1].
    d_overall : float
        Diameter of the wire over its enamel [m].
    r_inner : float
        Inner radius of the winding [m].
    height : float
        Height of the winding along its axis [m].
    packing : float
        Turns over the turns that square layers would hold in the same room [1].

    Returns
    -------
    r_outer : float
        Outer radius [m].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    r_outer = r_inner + n_turns * d_overall**2 / (packing * height)

    References
    ----------
    Geometry, no source needed.

    Examples
    --------
    >>> r_outer = outer_radius_of_turns(
    ...     n_turns=1000.0, d_overall=0.226e-3, r_inner=0.005, height=0.008, packing=0.9
    ... )
    >>> round(r_outer, 6)
    0.012094
    """
    require(n_turns > 0, "winding: n_turns must be above zero")
    require(d_overall > 0, "winding: d_overall must be above zero")
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(height > 0, "winding: height must be above zero")
    require(packing > 0, "winding: packing must be above zero")
    return r_inner + n_turns * d_overall**2 / (packing * height)


@calculator
def outer_radius_of_wire_length(
    *, length: Metre, d_overall: Metre, r_inner: Metre, height: Metre, packing: Ratio
) -> Metre:
    """Return how far a winding of known wire length builds up.

    Parameters
    ----------
    length : float
        Length of wire [m].
    d_overall : float
        Diameter of the wire over its enamel [m].
    r_inner : float
        Inner radius of the winding [m].
    height : float
        Height of the winding along its axis [m].
    packing : float
        Turns over the turns that square layers would hold in the same room [1].

    Returns
    -------
    r_outer : float
        Outer radius [m].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    r_outer = sqrt(r_inner**2 + length * d_overall**2 / (packing * pi * height))

    The wire's square cross-sections, laid end to end, fill the ring.

    References
    ----------
    Geometry, no source needed.

    Examples
    --------
    >>> r_outer = outer_radius_of_wire_length(
    ...     length=55.0, d_overall=0.226e-3, r_inner=0.005, height=0.008, packing=0.9
    ... )
    >>> round(r_outer, 6)
    0.012214
    """
    require(length > 0, "winding: length must be above zero")
    require(d_overall > 0, "winding: d_overall must be above zero")
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(height > 0, "winding: height must be above zero")
    require(packing > 0, "winding: packing must be above zero")
    return sqrt(r_inner**2 + length * d_overall**2 / (packing * pi * height))
