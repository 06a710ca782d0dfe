"""Wire, turns and resistance of a cylindrical winding of evenly spread turns."""

from calc.calculator import calculator, pi, require
from calc.units import Metre, Ohm, OhmPerMetre, Ratio


@calculator
def wire_length(*, n_turns: Ratio, r_inner: Metre, r_outer: Metre) -> Metre:
    """Return the length of wire in a winding of evenly spread turns.

    Parameters
    ----------
    n_turns : float
        Number of turns [1].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].

    Returns
    -------
    length : float
        Length of wire, without leads [m].

    Raises
    ------
    OutOfRangeError
        If n_turns or r_inner is not above zero, or r_outer not above r_inner.

    Notes
    -----
    length = n_turns * pi * (r_inner + r_outer)

    The mean turn has the mean of the inner and outer circumference.

    References
    ----------
    Geometry, no source needed.

    Examples
    --------
    >>> round(wire_length(n_turns=1000.0, r_inner=0.005, r_outer=0.0125), 2)
    54.98
    """
    require(n_turns > 0, "winding: n_turns must be above zero")
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(r_outer > r_inner, "winding: r_outer must be above r_inner")
    return n_turns * pi * (r_inner + r_outer)


@calculator
def turns_of_wire_length(*, length: Metre, r_inner: Metre, r_outer: Metre) -> Ratio:
    """Return how many turns a length of wire makes.

    Parameters
    ----------
    length : float
        Length of wire [m].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].

    Returns
    -------
    n_turns : float
        Number of turns, with its fraction [1].

    Raises
    ------
    OutOfRangeError
        If length or r_inner is not above zero, or r_outer not above r_inner.

    Notes
    -----
    n_turns = length / (pi * (r_inner + r_outer))

    References
    ----------
    Geometry, no source needed.

    Examples
    --------
    >>> round(turns_of_wire_length(length=80.0, r_inner=0.004, r_outer=0.012))
    1592
    """
    require(length > 0, "winding: length must be above zero")
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(r_outer > r_inner, "winding: r_outer must be above r_inner")
    return length / (pi * (r_inner + r_outer))


@calculator
def winding_resistance(
    *, n_turns: Ratio, r_inner: Metre, r_outer: Metre, r_per_metre: OhmPerMetre
) -> Ohm:
    """Return the resistance of a winding from its turns and its wire.

    Parameters
    ----------
    n_turns : float
        Number of turns [1].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].
    r_per_metre : float
        Resistance of the wire per metre at the winding's temperature [Ω/m].

    Returns
    -------
    r_coil : float
        Resistance of the winding [Ω].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero, or r_outer not above r_inner.

    Notes
    -----
    r_coil = n_turns * pi * (r_inner + r_outer) * r_per_metre

    References
    ----------
    Geometry and Ohm's law, no source needed.

    Examples
    --------
    >>> winding_resistance(n_turns=1000.0, r_inner=0.004, r_outer=0.012, r_per_metre=0.5)
    25.132741228718345
    """
    require(n_turns > 0, "winding: n_turns must be above zero")
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(r_outer > r_inner, "winding: r_outer must be above r_inner")
    require(r_per_metre > 0, "winding: r_per_metre must be above zero")
    return n_turns * pi * (r_inner + r_outer) * r_per_metre


@calculator
def turns_of_resistance(
    *, r_coil: Ohm, r_inner: Metre, r_outer: Metre, r_per_metre: OhmPerMetre
) -> Ratio:
    """Return how many turns a winding of known resistance must have.

    Parameters
    ----------
    r_coil : float
        Resistance of the winding [Ω].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].
    r_per_metre : float
        Resistance of the wire per metre at the winding's temperature [Ω/m].

    Returns
    -------
    n_turns : float
        Number of turns, with its fraction [1].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero, or r_outer not above r_inner.

    Notes
    -----
    n_turns = r_coil / (r_per_metre * pi * (r_inner + r_outer))

    References
    ----------
    Geometry and Ohm's law, no source needed.

    Examples
    --------
    >>> round(turns_of_resistance(r_coil=40.0, r_inner=0.004, r_outer=0.012, r_per_metre=0.54881))
    1450
    """
    require(r_coil > 0, "winding: r_coil must be above zero")
    require(r_inner > 0, "winding: r_inner must be above zero")
    require(r_outer > r_inner, "winding: r_outer must be above r_inner")
    require(r_per_metre > 0, "winding: r_per_metre must be above zero")
    return r_coil / (r_per_metre * pi * (r_inner + r_outer))
