"""Noise at the pin and the jitter that it gives to a crossing."""

from dataclasses import dataclass

from calc.calculator import calculator, require, sqrt
from calc.units import Farad, JoulePerKelvin, Kelvin, Ratio, Second, Volt, VoltPerSecond


@calculator
def thermal_noise(*, temperature: Kelvin, c: Farad, k_b: JoulePerKelvin = 1.380649e-23) -> Volt:
    """Return the noise of all the resistors that a capacitor sees.

    Parameters
    ----------
    temperature : float
        Absolute temperature [K].
    c : float
        Capacitor at the pin [F].
    k_b : float
        Boltzmann constant [J/K].

    Returns
    -------
    v_noise : float
        Root mean square noise across the capacitor [V].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    v_noise = sqrt(k_b * temperature / c)

    Whatever the resistors are: larger ones are noisier in a narrower band. Exact at the last
    capacitor of any network of resistors and capacitors with one capacitor there.

    References
    ----------
    Equipartition (Johnson and Nyquist, Phys. Rev. 32, 1928); from memory.

    Examples
    --------
    >>> round(thermal_noise(temperature=293.15, c=1e-6) * 1e9, 1)
    63.6
    """
    require(temperature > 0, "thermal_noise: temperature must be above zero; kelvin is meant")
    require(c > 0, "thermal_noise: c must be above zero; give the capacitor")
    require(k_b > 0, "thermal_noise: k_b must be above zero; keep the constant")
    return sqrt(k_b * temperature / c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Jitter:
    """Spread of a crossing's time, by contributor and together."""

    thermal: Second
    converter: Second
    hum: Second
    tick: Second
    event: Second
    beat: Second


@calculator
def crossing_jitter(
    *,
    v_thermal: Volt,
    v_step: Volt,
    v_hum: Volt,
    tick: Second,
    slope: VoltPerSecond,
    hum_share: Ratio,
) -> Jitter:
    """Return how far noise moves the moment at which a signal crosses a level.

    Parameters
    ----------
    v_thermal : float
        Root mean square noise of the resistors at the pin [V].
    v_step : float
        One step of the converter, zero for a comparator [V].
    v_hum : float
        Amplitude of the hum at the pin [V].
    tick : float
        One tick of the timer or the time between samples [s].
    slope : float
        Magnitude of the signal's slope at the crossing [V/s].
    hum_share : float
        Root mean square of the hum's change between two events, as a share of its amplitude [1].

    Returns
    -------
    jitter : Jitter
        Root mean square of each contributor for one event; `hum` is for the time between two
        events, `event` leaves the hum out, `beat` is the time between two events with all.

    Raises
    ------
    OutOfRangeError
        If slope is not above zero or another argument is negative.

    Notes
    -----
    thermal = v_thermal / slope
    converter = v_step / sqrt(12) / slope
    hum = v_hum * hum_share / slope
    tick = tick / sqrt(12)
    event = sqrt(thermal**2 + converter**2 + tick**2)
    beat = sqrt(2 * event**2 + hum**2)

    References
    ----------
    Common practice, no source: noise over slope; an even error of one step has a root mean
    square of the step over the root of 12.

    Examples
    --------
    >>> found = crossing_jitter(v_thermal=1e-7, v_step=1e-3, v_hum=0.0, tick=1e-6, slope=2.0,
    ...                         hum_share=1.0)
    >>> round(found.converter * 1e6, 1), round(found.beat * 1e6, 1)
    (144.3, 204.1)
    """
    require(slope > 0, "crossing_jitter: slope must be above zero; the signal must cross")
    require(v_thermal >= 0, "crossing_jitter: v_thermal must not be negative; give the noise")
    require(v_step >= 0, "crossing_jitter: v_step must not be negative; zero for a comparator")
    require(v_hum >= 0, "crossing_jitter: v_hum must not be negative; give the amplitude")
    require(tick >= 0, "crossing_jitter: tick must not be negative; give the timer's tick")
    require(hum_share >= 0, "crossing_jitter: hum_share must not be negative")
    thermal = v_thermal / slope
    converter = v_step / sqrt(12.0) / slope
    hum = v_hum * hum_share / slope
    quantum = tick / sqrt(12.0)
    event = sqrt(thermal**2 + converter**2 + quantum**2)
    return Jitter(
        thermal=thermal,
        converter=converter,
        hum=hum,
        tick=quantum,
        event=event,
        beat=sqrt(2 * event**2 + hum**2),
    )
