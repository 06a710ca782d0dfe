"""What the parts list asks of resistors, capacitors and diodes beside their value."""

from circuits.format_quantity import show

WATTS = (0.1, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
"""Powers that resistors are made for; common practice, no source."""
COOL = 2.0
"""A resistor is rated for so many times what it turns into heat; common practice, no source."""
VOLTAGE_ROOM = 1.5
"""A capacitor is rated for so many times what it sees; common practice, no source."""


def resistor_rating(power: float) -> str:
    """Return the power that a resistor should be made for.

    >>> resistor_rating(0.03), resistor_rating(0.2), resistor_rating(40.0)
    ('0.1 W', '0.5 W', '80 W or more')
    """
    fitting = next((one for one in WATTS if one >= COOL * power), None)
    # Resistors are sold by the watt, never by the milliwatt.
    return f"{fitting:g} W" if fitting is not None else f"{show(COOL * power, 'W')} or more"


def capacitor_rating(voltage: float) -> str:
    """Return the voltage that a capacitor should be made for.

    >>> capacitor_rating(4.2)
    '6.3 V or more'
    """
    return f"{show(VOLTAGE_ROOM * voltage, 'V')} or more"
