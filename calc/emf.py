"""What the linkage's slope makes: EMF with speed, force with current, and a pass's two lobes."""

from dataclasses import dataclass

import numpy as np

from calc.calculator import calculator, require, routine
from calc.units import (
    Ampere,
    Count,
    MetrePerSecond,
    Newton,
    Second,
    SecondCurve,
    Volt,
    VoltCurve,
    WeberPerMetre,
)

LOBE_SHARE = 0.05
"""A lobe of the EMF counts from this share of the peak."""


@calculator
def emf(*, linkage_slope: WeberPerMetre, speed: MetrePerSecond) -> Volt:
    """Return the EMF that a moving magnet induces.

    Parameters
    ----------
    linkage_slope : float
        Slope of the flux linkage along the magnet's path [Wb/m].
    speed : float
        Speed of the magnet along its path [m/s].

    Returns
    -------
    emf : float
        EMF, by Faraday's law with Lenz's sign [V].

    Raises
    ------
    OutOfRangeError
        If an argument is not a number.

    Notes
    -----
    emf = -speed * linkage_slope

    References
    ----------
    Faraday's law of induction, no source needed.

    Examples
    --------
    >>> emf(linkage_slope=-0.42, speed=0.5)
    0.21
    """
    require(np.isfinite(linkage_slope), "emf: linkage_slope must be a number; give the slope")
    require(np.isfinite(speed), "emf: speed must be a number; negative on the way back")
    return -speed * linkage_slope


@calculator
def coil_force(*, linkage_slope: WeberPerMetre, i_coil: Ampere) -> Newton:
    """Return the force along the path between a magnet and a coil that carries current.

    Parameters
    ----------
    linkage_slope : float
        Slope of the flux linkage along the magnet's path [Wb/m].
    i_coil : float
        Coil current; positive if its own field is along the magnet's [A].

    Returns
    -------
    force : float
        Force on the magnet, positive along the path [N].

    Raises
    ------
    OutOfRangeError
        If an argument is not a number.

    Notes
    -----
    force = i_coil * linkage_slope

    The same slope as that of the EMF: force times speed is current times EMF.

    References
    ----------
    Energy balance of a coil and a magnet; common practice, no source.

    Examples
    --------
    >>> coil_force(linkage_slope=-0.42, i_coil=-0.05)
    0.021
    """
    require(np.isfinite(linkage_slope), "coil_force: linkage_slope must be a number; give it")
    require(np.isfinite(i_coil), "coil_force: i_coil must be a number; its sign is its sense")
    return i_coil * linkage_slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """Figures of the EMF of one pass; `spacing` is from the first lobe's peak to the last's."""

    emf_peak: Volt
    t_peak: Second
    spacing: Second
    lobes: Count


@routine
def emf_burst(*, t: SecondCurve, flux_rate: VoltCurve) -> Burst:
    """Return peak, place, spacing and number of the lobes of one pass.

    Parameters
    ----------
    t : numpy.ndarray
        Times at equal steps [s].
    flux_rate : numpy.ndarray
        Rate of change of the flux linkage [V].

    Returns
    -------
    burst : Burst
        The greatest magnitude and its time, the time between first and last lobe, the lobes.

    Raises
    ------
    OutOfRangeError
        If there are fewer than five samples, the steps differ, or nothing is induced.

    Notes
    -----
    By search; held by test_burst_of_a_known_wave.

    Each peak is that of the parabola through three samples. Lobes under a twentieth of the
    greatest do not count.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> t = np.linspace(-0.1, 0.1, 401)
    >>> burst = emf_burst(t=t, flux_rate=-t * np.exp(-(t**2) / 2e-4))
    >>> round(burst.emf_peak, 6), round(burst.spacing, 4), burst.lobes
    (0.006065, 0.02, 2)
    """
    require(t.size >= 5, "emf_burst: t must hold five samples; sample the pass more closely")
    steps = np.diff(t)
    require(np.abs(steps - steps[0]) < 1e-6 * steps[0], "emf_burst: t must rise by equal steps")
    size = np.abs(flux_rate)
    greatest = float(size.max())
    require(greatest > 0, "emf_burst: flux_rate must not be zero throughout; nothing is induced")
    middle = np.flatnonzero((size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:])) + 1
    middle = middle[size[middle] >= LOBE_SHARE * greatest]
    if not middle.size:
        # A swing that turns before the lobe's peak has its greatest EMF at an end.
        middle = np.array([int(np.clip(np.argmax(size), 1, t.size - 2))])
    before, at, after = (flux_rate[middle + shift] for shift in (-1, 0, 1))
    bend = before - 2 * at + after
    shift = np.where(bend != 0, (before - after) / (2 * np.where(bend != 0, bend, 1.0)), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    heights = at - (before - after) * shift / 4
    times = t[middle] + shift * steps[0]
    lobes: list[int] = []
    for index in range(heights.size):
        if lobes and heights[lobes[-1]] * heights[index] > 0:
            if abs(heights[index]) > abs(heights[lobes[-1]]):
                lobes[-1] = index
        else:
            lobes.append(index)
    tallest = int(np.argmax(np.abs(heights)))
    return Burst(
        emf_peak=float(np.abs(heights[tallest])),
        t_peak=float(times[tallest]),
        spacing=float(times[lobes[-1]] - times[lobes[0]]),
        lobes=len(lobes),
    )
