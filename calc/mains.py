"""Mains hum sampled once a beat: where it aliases to and how far it carries the rate."""

from dataclasses import dataclass

import numpy as np

from calc.calculator import calculator, pi, require, routine, sin, sqrt
from calc.units import Count, Hertz, Ratio, Second, Volt, VoltPerSecond


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """The mains period that lies nearest under the beat, and the slow swing that it leaves."""

    cycles: Count
    f_alias: Hertz


@routine
def mains_alias(*, interval: Second, f_mains: Hertz) -> Alias:
    """Return the slow frequency that hum seems to have when it is met once a beat.

    Parameters
    ----------
    interval : float
        Time between two timed events [s].
    f_mains : float
        Frequency of the mains [Hz].

    Returns
    -------
    alias : Alias
        Whole mains cycles nearest to the interval, and the apparent frequency.

    Raises
    ------
    OutOfRangeError
        If interval or f_mains is not above zero.

    Notes
    -----
    By rounding to whole mains cycles: the alias is the distance of f_mains from cycles/interval.
    Held by test_hum_met_once_a_beat_looks_slow.

    References
    ----------
    Sampling theorem; no source needed.

    Examples
    --------
    >>> found = mains_alias(interval=1.0002, f_mains=50.0)
    >>> found.cycles, round(found.f_alias, 6)
    (50, 0.009998)
    """
    require(interval > 0, "mains_alias: interval must be above zero; give the time of a beat")
    require(f_mains > 0, "mains_alias: f_mains must be above zero; 50 Hz or 60 Hz is usual")
    cycles = int(np.rint(interval * f_mains))
    return Alias(cycles=cycles, f_alias=float(abs(f_mains - cycles / interval)))


@dataclass(frozen=True, slots=True, kw_only=True)
class HumWander:
    """What hum does to timed events: to each, to their interval, and to the rate."""

    shift: Second
    share: Ratio
    interval_change: Second
    rate_peak: Ratio


@calculator
def hum_wander(*, v_hum: Volt, slope: VoltPerSecond, f_alias: Hertz, interval: Second) -> HumWander:
    """Return how hum moves the time of an event, of a beat, and the rate over a slow swing.

    Parameters
    ----------
    v_hum : float
        Amplitude of the hum at the pin [V].
    slope : float
        Magnitude of the signal's slope at the event [V/s].
    f_alias : float
        Apparent frequency of the hum when met once a beat [Hz].
    interval : float
        Time between two timed events [s].

    Returns
    -------
    wander : HumWander
        Greatest shift of one event, root mean square of the change between two events as a share
        of the amplitude, greatest change of an interval, and that change as a rate.

    Raises
    ------
    OutOfRangeError
        If slope or interval is not above zero, or v_hum or f_alias is negative.

    Notes
    -----
    shift = v_hum / slope
    share = sqrt(2) * abs(sin(pi * f_alias * interval))
    interval_change = 2 * shift * abs(sin(pi * f_alias * interval))
    rate_peak = interval_change / interval

    Between two events the hum's phase moves on by 2 pi f_alias interval: hum that stands almost
    still barely changes a beat, yet carries the rate one way for minutes.

    References
    ----------
    Difference of two samples of a sine; no source needed.

    Examples
    --------
    >>> found = hum_wander(v_hum=1e-3, slope=2.0, f_alias=0.01, interval=1.0)
    >>> round(found.shift * 1e6), round(found.interval_change * 1e6, 1)
    (500, 31.4)
    """
    require(v_hum >= 0, "hum_wander: v_hum must not be negative; give the amplitude")
    require(slope > 0, "hum_wander: slope must be above zero; the signal must cross")
    require(f_alias >= 0, "hum_wander: f_alias must not be negative")
    require(interval > 0, "hum_wander: interval must be above zero; give the time of a beat")
    shift = v_hum / slope
    moved = abs(sin(pi * f_alias * interval))
    return HumWander(
        shift=shift,
        share=sqrt(2.0) * moved,
        interval_change=2 * shift * moved,
        rate_peak=2 * shift * moved / interval,
    )
