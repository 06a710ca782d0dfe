"""Numbers as a deck carries them: plain exponents, since a scale letter may be misread."""

import math


def spice_number(value: float) -> str:
    """Return a number in the one spelling that every SPICE reads alike.

    Parameters
    ----------
    value : float
        Any finite number.

    Returns
    -------
    text : str
        Digits with a plain exponent, such as ``4.7e+03``; it reads back to the same float.

    Raises
    ------
    ValueError
        If the value is not finite.

    Examples
    --------
    >>> spice_number(4700)
    '4.7e+03'
    >>> float(spice_number(0.1)) == 0.1
    True
    """
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"deck: a number must be finite, found {number}")
    mantissa, exponent = f"{number:.16e}".split("e")
    shortest = repr(float(mantissa))
    if float(f"{shortest}e{exponent}") == number:
        mantissa = shortest
    return f"{mantissa}e{exponent}"
