"""Figures as a maker reads them: three significant digits and a handy unit, ASCII only."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0
YEAR = 365.25 * DAY
AMPERE_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A handy unit, its size in the SI unit, and the magnitude from which it is used."""

    name: str
    size: float
    from_magnitude: float = 0.0


def _prefixed(unit: str, *prefixes: str) -> tuple[Scale, ...]:
    sizes = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}
    return tuple(
        Scale(name=prefix + unit, size=sizes[prefix], from_magnitude=sizes[prefix])
        for prefix in prefixes
    )


_TIMES = (
    *_prefixed("s", "n", "u", "m", ""),
    Scale(name="min", size=MINUTE, from_magnitude=5 * MINUTE),
    Scale(name="h", size=HOUR, from_magnitude=2 * HOUR),
    Scale(name="days", size=DAY, from_magnitude=2 * DAY),
    Scale(name="years", size=YEAR, from_magnitude=YEAR),
)
_CHARGES = (
    *_prefixed("C", "n", "u", "m", ""),
    Scale(name="mAh", size=AMPERE_HOUR / 1000, from_magnitude=AMPERE_HOUR / 100),
    Scale(name="Ah", size=AMPERE_HOUR, from_magnitude=AMPERE_HOUR),
)
_SCALES: dict[str, tuple[Scale, ...]] = {
    "s": _TIMES,
    "C": _CHARGES,
    "rad": (Scale(name="deg", size=math.pi / 180),),
    "s/day/rad": (Scale(name="s/day per deg", size=180 / math.pi),),
    "s/day/s": (Scale(name="s/day per ms", size=1e3),),
    "ohm": _prefixed("ohm", "m", "", "k", "M", "G"),
    "V": _prefixed("V", "n", "u", "m", "", "k"),
    "A": _prefixed("A", "p", "n", "u", "m", ""),
    "W": _prefixed("W", "n", "u", "m", "", "k"),
    "J": _prefixed("J", "p", "n", "u", "m", "", "k"),
    "H": _prefixed("H", "n", "u", "m", ""),
    "F": _prefixed("F", "p", "n", "u", "m", ""),
    "Hz": _prefixed("Hz", "m", "", "k", "M"),
    "T": _prefixed("T", "u", "m", ""),
    "Wb": _prefixed("Wb", "n", "u", "m", ""),
    "Wb/m": _prefixed("V per m/s", "n", "u", "m", ""),
    "N": _prefixed("N", "n", "u", "m", "", "k"),
    "N*m": _prefixed("N*m", "n", "u", "m", "", "k"),
    "m": (
        Scale(name="um", size=1e-6),
        Scale(name="mm", size=1e-3, from_magnitude=1e-5),
        Scale(name="m", size=1.0, from_magnitude=1.0),
    ),
    "m/s": (*_prefixed("m/s", "u", "m"), Scale(name="m/s", size=1.0, from_magnitude=0.1)),
    "kg": (
        Scale(name="mg", size=1e-6),
        Scale(name="g", size=1e-3, from_magnitude=1e-3),
        Scale(name="kg", size=1.0, from_magnitude=1.0),
    ),
    "ohm/m": _prefixed("ohm/m", "m", "", "k"),
}


def significant(value: float, digits: int = 3) -> str:
    """Return a number to so many significant digits, without trailing zeros.

    >>> significant(0.0123456), significant(18400.2), significant(2.0), significant(3.2e-7)
    ('0.0123', '18400', '2', '3.2e-7')
    """
    if not math.isfinite(value):
        return "without limit" if value > 0 else "unknown"
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value, digits - 1 - exponent)
    if not 1e-4 <= abs(rounded) < 1e7:
        mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
        if "." in mantissa:
            mantissa = mantissa.rstrip("0").rstrip(".")
        return f"{mantissa}e{int(power)}"
    text = f"{rounded:.{max(0, digits - 1 - exponent)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _scale(magnitude: float, unit: str, digits: int) -> Scale:
    """Return the largest handy unit that the magnitude reaches once it is rounded."""
    scales = _SCALES.get(unit, (Scale(name=unit, size=1.0),))
    if not magnitude:
        return next((scale for scale in scales if scale.size == 1.0), scales[0])
    chosen = scales[0]
    for scale in scales[1:]:
        if float(f"{magnitude / scale.from_magnitude:.{digits - 1}e}") >= 1:
            chosen = scale
    return chosen


def show(value: float | str, unit: str | None, digits: int = 3) -> str:
    """Return a figure with a handy unit; text comes back as it is.

    Parameters
    ----------
    value : float or str
        The figure in SI units.
    unit : str or None
        Its unit as on the sheet; None or "1" for a bare number.
    digits : int
        Significant digits.

    Returns
    -------
    text : str
        Such as "330 ohm", "18.4 ms" or "2.1 years".

    Examples
    --------
    >>> show(0.0184, "s"), show(4700.0, "ohm"), show(6.6e7, "s"), show(0.04363, "rad")
    ('18.4 ms', '4.7 kohm', '2.09 years', '2.5 deg')
    """
    if isinstance(value, str):
        return value
    if unit is None or unit == "1":
        return str(value) if isinstance(value, int) else significant(value, digits)
    if not math.isfinite(value):
        return significant(value)
    scale = _scale(abs(value), unit, digits)
    figure = significant(value / scale.size, digits)
    one = figure == "1" and scale.name in ("days", "years")
    return f"{figure} {scale.name[:-1] if one else scale.name}"


def show_range(low: float, high: float, unit: str | None, digits: int = 3) -> str:
    """Return a span in one handy unit, or one figure where both ends read alike.

    Examples
    --------
    >>> show_range(310.0, 350.0, "ohm"), show_range(2.0e-3, 2.0e-3, "s")
    ('310 to 350 ohm', '2 ms')
    """
    if unit is None or unit == "1":
        ends = [show(low, unit, digits), show(high, unit, digits)]
        return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{show(low, unit, digits)} to {show(high, unit, digits)}"
    scale = _scale(max(abs(low), abs(high)), unit, digits)
    first = significant(low / scale.size, digits)
    last = significant(high / scale.size, digits)
    return f"{first} {scale.name}" if first == last else f"{first} to {last} {scale.name}"


def show_alike(values: Sequence[float], unit: str | None, digits: int = 3) -> tuple[list[str], str]:
    """Return figures of one row in one handy unit, and that unit.

    Examples
    --------
    >>> show_alike([0.9e-3, 1.2e-3], "s"), show_alike([0.5, 2.0], "1")
    ((['0.9', '1.2'], 'ms'), (['0.5', '2'], ''))
    """
    if unit is None or unit == "1":
        return [significant(value, digits) for value in values], ""
    scale = _scale(max(map(abs, values), default=0.0), unit, digits)
    return [significant(value / scale.size, digits) for value in values], scale.name


def show_temperature(kelvin: float) -> str:
    """Return an absolute temperature in degrees Celsius.

    >>> show_temperature(293.15)
    '20 degC'
    """
    return f"{significant(kelvin - 273.15)} degC"


def percent(ratio: float) -> str:
    """Return a ratio in per cent.

    >>> percent(0.035)
    '3.5 %'
    """
    return f"{significant(100 * ratio)} %"
