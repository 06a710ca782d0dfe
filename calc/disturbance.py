"""What impulse, air and support do to the rate.

Rates are shares of time; a positive rate gains.
"""

from calc.calculator import calculator, pi, require, sqrt, tan
from calc.pendulum import STANDARD_GRAVITY
from calc.units import (
    Kilogram,
    KilogramPerCubicMetre,
    Metre,
    MetrePerSecondSquared,
    NewtonPerMetre,
    Radian,
    Ratio,
)


@calculator
def impulse_rate(*, phase: Radian, q_factor: Ratio) -> Ratio:
    """Return what a short impulse that sustains the swing does to the rate.

    Parameters
    ----------
    phase : float
        Phase of the swing at the impulse, from mid-swing; positive after it [rad].
    q_factor : float
        Quality factor [1].

    Returns
    -------
    rate : float
        Gain as a share of time: before the centre gains, after it loses [1].

    Raises
    ------
    OutOfRangeError
        If q_factor is not above zero or phase reaches a turning point.

    Notes
    -----
    rate = -tan(phase) / (2 * q_factor)

    A period is a phase of two pi. Small arc, impulse short against the period, equal on
    every pass.

    References
    ----------
    G. B. Airy, On the disturbances of pendulums and balances and on the theory of escapements,
    Trans. Cambridge Phil. Soc. III, 1830 (from memory); this form derived here.

    Examples
    --------
    >>> round(impulse_rate(phase=0.12, q_factor=900.0) * 1e6, 4)
    -66.9885
    """
    require(q_factor > 0, "rate: q_factor must be above zero; take it from a ring-down")
    require(abs(phase) < pi / 2, "rate: phase must stay short of a turning point")
    return -tan(phase) / (2 * q_factor)


@calculator
def buoyancy_rate(
    *, density_air: KilogramPerCubicMetre, density_bob: KilogramPerCubicMetre
) -> Ratio:
    """Return what a pendulum loses because the air carries part of its weight.

    Parameters
    ----------
    density_air : float
        Density of the air [kg/m^3].
    density_bob : float
        Mean density of the pendulum [kg/m^3].

    Returns
    -------
    rate : float
        Gain as a share of time against a vacuum, negative [1].

    Raises
    ------
    OutOfRangeError
        If a density is not above zero, or the pendulum floats.

    Notes
    -----
    rate = sqrt(1 - density_air / density_bob) - 1

    Without the air that swings along, which adds about half as much again.

    References
    ----------
    Archimedes' principle; derived here.

    Examples
    --------
    >>> round(buoyancy_rate(density_air=1.2, density_bob=8100.0) * 1e6, 4)
    -74.0768
    """
    require(density_air > 0, "rate: density_air must be above zero")
    require(density_bob > density_air, "rate: density_bob must exceed density_air")
    return sqrt(1 - density_air / density_bob) - 1


@calculator
def support_rate(
    *,
    mass: Kilogram,
    effective_length: Metre,
    stiffness: NewtonPerMetre,
    g: MetrePerSecondSquared = STANDARD_GRAVITY,
) -> Ratio:
    """Return what a pendulum loses because its support sways with it.

    Parameters
    ----------
    mass : float
        Mass of the bob on a light rod [kg].
    effective_length : float
        From the pivot to the centre of oscillation [m].
    stiffness : float
        Sideways force on the pivot over its way [N/m].
    g : float
        Acceleration of free fall [m/s^2].

    Returns
    -------
    rate : float
        Gain as a share of time against a rigid support, negative [1].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    rate = 1 / sqrt(1 + mass * g / (stiffness * effective_length)) - 1

    The bob's pull, weight times angle, moves the pivot the same way: to the swing the pendulum
    is longer by weight over stiffness. Support light, its own resonance far above the swing.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> round(support_rate(mass=0.5, effective_length=0.72, stiffness=2e5) * 1e6, 4)
    -17.025
    """
    require(mass > 0, "rate: mass must be above zero")
    require(effective_length > 0, "rate: effective_length must be above zero")
    require(stiffness > 0, "rate: stiffness must be above zero; pull sideways and measure")
    require(g > 0, "rate: g must be above zero; use 9.81 m/s^2")
    return 1 / sqrt(1 + mass * g / (stiffness * effective_length)) - 1
