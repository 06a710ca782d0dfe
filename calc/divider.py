"""Dividers that feed a pin: open and loaded value, source resistance, drain and injection."""

from dataclasses import dataclass

from calc.calculator import calculator, maximum, require
from calc.units import Ampere, Ohm, Ratio, Volt


@dataclass(frozen=True, slots=True, kw_only=True)
class Divider:
    """A divider across a supply, open and with a load across its lower resistor."""

    ratio: Ratio
    v_open: Volt
    r_source: Ohm
    v_loaded: Volt
    i_drain: Ampere


@calculator
def divider(*, v_supply: Volt, r_upper: Ohm, r_lower: Ohm, r_load: Ohm) -> Divider:
    """Return what a divider gives without and with a load, and what it draws.

    Parameters
    ----------
    v_supply : float
        Voltage across both resistors [V].
    r_upper : float
        Resistor to the supply [ohm].
    r_lower : float
        Resistor to ground [ohm].
    r_load : float
        Resistance of the load to ground, infinite for none [ohm].

    Returns
    -------
    divider : Divider
        Ratio without load, open voltage, source resistance, loaded voltage and standing drain.

    Raises
    ------
    OutOfRangeError
        If a resistance is not above zero, or v_supply is not a number.

    Notes
    -----
    ratio = r_lower / (r_upper + r_lower)
    v_open = v_supply * ratio
    r_source = r_upper * r_lower / (r_upper + r_lower)
    v_loaded = v_open / (1 + r_source / r_load)
    i_drain = v_supply / (r_upper + r_lower / (1 + r_lower / r_load))

    Both ends of a divider are stiff, so the load sees the two resistors in parallel, never the
    larger one and never their sum.

    References
    ----------
    Textbook relation (Thévenin's theorem); no source needed.

    Examples
    --------
    >>> found = divider(v_supply=30.0, r_upper=10e3, r_lower=10e3, r_load=10e3)
    >>> found.v_open, found.v_loaded, found.r_source
    (15.0, 10.0, 5000.0)
    """
    require(r_upper > 0, "divider: r_upper must be above zero; give the resistor to the supply")
    require(r_lower > 0, "divider: r_lower must be above zero; give the resistor to ground")
    require(r_load > 0, "divider: r_load must be above zero; infinite stands for no load")
    require(abs(v_supply) >= 0, "divider: v_supply must be a number; give the supply's voltage")
    ratio = r_lower / (r_upper + r_lower)
    v_open = v_supply * ratio
    r_source = r_upper * r_lower / (r_upper + r_lower)
    return Divider(
        ratio=ratio,
        v_open=v_open,
        r_source=r_source,
        v_loaded=v_open / (1 + r_source / r_load),
        i_drain=v_supply / (r_upper + r_lower / (1 + r_lower / r_load)),
    )


@calculator
def loading_loss(*, r_source: Ohm, r_load: Ohm) -> Ratio:
    """Return the share of a source's open voltage that a load takes away.

    Parameters
    ----------
    r_source : float
        Resistance of the source, such as a winding [ohm].
    r_load : float
        Resistance of the load, infinite for none [ohm].

    Returns
    -------
    share : float
        Lost share of the open voltage [1].

    Raises
    ------
    OutOfRangeError
        If r_source is below zero or r_load not above zero.

    Notes
    -----
    share = r_source / r_load / (1 + r_source / r_load)

    References
    ----------
    Textbook relation (voltage divider); no source needed.

    Examples
    --------
    >>> round(loading_loss(r_source=35.0, r_load=50e3), 6)
    0.0007
    """
    require(r_source >= 0, "loading_loss: r_source must not be negative; give the winding")
    require(r_load > 0, "loading_loss: r_load must be above zero; infinite stands for no load")
    return r_source / r_load / (1 + r_source / r_load)


@calculator
def injection_current(
    *, v_node: Volt, v_high: Volt, v_low: Volt, ratio: Ratio, v_bias: Volt, r_series: Ohm
) -> Ampere:
    """Return the current that a voltage at a node forces into a pin's clamp.

    Parameters
    ----------
    v_node : float
        Voltage at the node that the divider hangs on [V].
    v_high : float
        Voltage at the pin from which its upper clamp conducts [V].
    v_low : float
        Voltage at the pin below which its lower clamp conducts; usually below zero [V].
    ratio : float
        Ratio of the divider between node and pin [1].
    v_bias : float
        Voltage that stands at the pin with the node at zero [V].
    r_series : float
        Source resistance of the divider and every resistor on to the pin [ohm].

    Returns
    -------
    i_injected : float
        Current into the pin, out of it if negative, zero between the clamps [A].

    Raises
    ------
    OutOfRangeError
        If r_series is not above zero, v_high not above v_low, or a voltage is not a number.

    Notes
    -----
    v_pin = v_bias + ratio * v_node
    i_injected = (maximum(v_pin - v_high, 0) - maximum(v_low - v_pin, 0)) / r_series

    References
    ----------
    Common practice, no source: a pin's clamp taken as a stiff voltage.

    Examples
    --------
    >>> injection_current(
    ...     v_node=33.0, v_high=3.5, v_low=-0.3, ratio=0.5, v_bias=0.0, r_series=10e3
    ... )
    0.0013
    """
    require(r_series > 0, "injection_current: r_series must be above zero; add the divider's own")
    require(v_high > v_low, "injection_current: v_high must exceed v_low; check the clamp's levels")
    require(abs(ratio) >= 0, "injection_current: ratio must be a number; give the divider's ratio")
    require(abs(v_node + v_bias) >= 0, "injection_current: v_node and v_bias must be numbers")
    v_pin = v_bias + ratio * v_node
    return (maximum(v_pin - v_high, 0.0) - maximum(v_low - v_pin, 0.0)) / r_series


@calculator
def leakage_shift(*, i_leakage: Ampere, r_source: Ohm) -> Volt:
    """Return how far a pin's leakage moves the voltage that it reads.

    Parameters
    ----------
    i_leakage : float
        Leakage of the pin, of either sign [A].
    r_source : float
        Resistance that the pin looks into [ohm].

    Returns
    -------
    v_shift : float
        Shift of the reading [V].

    Raises
    ------
    OutOfRangeError
        If r_source is below zero, or i_leakage is not a number.

    Notes
    -----
    v_shift = i_leakage * r_source

    References
    ----------
    Ohm's law; no source needed.

    Examples
    --------
    >>> leakage_shift(i_leakage=1e-6, r_source=250e3)
    0.25
    """
    require(abs(i_leakage) >= 0, "leakage_shift: i_leakage must be a number; see the data sheet")
    require(r_source >= 0, "leakage_shift: r_source must not be negative; give the resistance")
    return i_leakage * r_source
