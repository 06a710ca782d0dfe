"""A duty cycle as a voltage: ripple and settling of PWM behind one or two RC sections."""

from dataclasses import dataclass

from calc.calculator import calculator, exp, hypot, log, require
from calc.units import Farad, Hertz, Ohm, Ratio, Second, Volt


@calculator
def pwm_ripple(*, v_high: Volt, duty: Ratio, f_pwm: Hertz, tau: Second) -> Volt:
    """Return the ripple that one RC section leaves of a PWM, from peak to peak.

    Parameters
    ----------
    v_high : float
        Level of the output while it is high; it is zero while it is low [V].
    duty : float
        Share of the period for which it is high [1].
    f_pwm : float
        Frequency of the PWM [Hz].
    tau : float
        Resistance times capacitance [s].

    Returns
    -------
    ripple : float
        From peak to peak, largest at a duty of one half [V].

    Raises
    ------
    OutOfRangeError
        If v_high, f_pwm or tau is not above zero, or duty is not between zero and one.

    Notes
    -----
    rise = 1 - exp(-duty / (f_pwm * tau))
    fall = 1 - exp(-(1 - duty) / (f_pwm * tau))
    ripple = v_high * rise * fall / (1 - exp(-1 / (f_pwm * tau)))

    Exact in the steady state. For a tau of many periods and half the duty v_high / (4 f_pwm tau).

    References
    ----------
    Charging and discharging of a capacitor, joined over one period; derived here.

    Examples
    --------
    >>> round(pwm_ripple(v_high=3.0, duty=0.5, f_pwm=1000.0, tau=0.02) * 1e3, 3)
    37.498
    """
    require(v_high > 0, "pwm: v_high must be above zero")
    require((duty > 0) & (duty < 1), "pwm: duty must lie between zero and one")
    require(f_pwm > 0, "pwm: f_pwm must be above zero")
    require(tau > 0, "pwm: tau must be above zero; resistance times capacitance")
    periods = 1 / (f_pwm * tau)
    rise, fall = 1 - exp(-duty * periods), 1 - exp(-(1 - duty) * periods)
    return v_high * rise * fall / (1 - exp(-periods))


@calculator
def pwm_tau(*, ripple_share: Ratio, f_pwm: Hertz) -> Second:
    """Return the time constant of one RC section that brings the ripple down to a share.

    Parameters
    ----------
    ripple_share : float
        Ripple from peak to peak over the PWM's own height, at half the duty [1].
    f_pwm : float
        Frequency of the PWM [Hz].

    Returns
    -------
    tau : float
        Resistance times capacitance [s].

    Raises
    ------
    OutOfRangeError
        If f_pwm is not above zero, or ripple_share is not between zero and one.

    Notes
    -----
    tau = 1 / (2 * f_pwm * log((1 + ripple_share) / (1 - ripple_share)))

    References
    ----------
    pwm_ripple at half the duty, turned round; derived here.

    Examples
    --------
    >>> round(pwm_tau(ripple_share=1 / 256, f_pwm=10e3) * 1e3, 3)
    6.4
    """
    require(f_pwm > 0, "pwm: f_pwm must be above zero")
    require((ripple_share > 0) & (ripple_share < 1), "pwm: ripple_share must lie from zero to one")
    return 1 / (2 * f_pwm * log((1 + ripple_share) / (1 - ripple_share)))


@calculator
def rc_settling(*, tau: Second, share: Ratio) -> Second:
    """Return when one RC section has come within a share of its step.

    Parameters
    ----------
    tau : float
        Resistance times capacitance [s].
    share : float
        Share of the step that is still missing [1].

    Returns
    -------
    time : float
        After the step [s].

    Raises
    ------
    OutOfRangeError
        If tau is not above zero or share is not between zero and one.

    Notes
    -----
    time = -tau * log(share)

    References
    ----------
    Charging of a capacitor; textbook matter, common practice, no source.

    Examples
    --------
    >>> round(rc_settling(tau=6.4e-3, share=1 / 256) * 1e3, 2)
    35.49
    """
    require(tau > 0, "pwm: tau must be above zero; resistance times capacitance")
    require((share > 0) & (share < 1), "pwm: share must lie between zero and one")
    return -tau * log(share)


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoSections:
    """What two RC sections in a row make of a PWM."""

    ripple: Volt
    settling: Second
    gain: Ratio


@calculator
def pwm_two_sections(
    *, v_high: Volt, duty: Ratio, f_pwm: Hertz, r: Ohm, c: Farad, r_load: Ohm, share: Ratio
) -> TwoSections:
    """Return ripple and settling of two equal RC sections in a row, loaded by an input.

    Parameters
    ----------
    v_high : float
        Level of the output while it is high; it is zero while it is low [V].
    duty : float
        Share of the period for which it is high [1].
    f_pwm : float
        Frequency of the PWM [Hz].
    r : float
        Resistance of each section [ohm].
    c : float
        Capacitance of each section [F].
    r_load : float
        Resistance of the input behind the second section, infinite for none [ohm].
    share : float
        Share of a step that may be missing when it counts as settled [1].

    Returns
    -------
    found : TwoSections
        Ripple from peak to peak, time to settle, and the gain for a steady voltage.

    Raises
    ------
    OutOfRangeError
        If a figure is not above zero, or duty or share is not between zero and one.

    Notes
    -----
    q = r / r_load
    spread = hypot((1 - q) / 2, 1)
    fast = (3 + q) / 2 + spread
    slow = (1 + 2 * q) / fast
    period = 1 / (f_pwm * r * c)
    a_slow = (1 - exp(-slow * (1 - duty) * period)) / (1 - exp(-slow * period))
    a_fast = (1 - exp(-fast * (1 - duty) * period)) / (1 - exp(-fast * period))
    b_slow = (1 - exp(-slow * duty * period)) / (1 - exp(-slow * period))
    b_fast = (1 - exp(-fast * duty * period)) / (1 - exp(-fast * period))
    t_low = log(a_fast / a_slow) / (fast - slow)
    t_high = log(b_fast / b_slow) / (fast - slow)
    low = 1 - (fast * a_slow * exp(-slow * t_low) - slow * a_fast * exp(-fast * t_low)) / (
        fast - slow)
    high = (fast * b_slow * exp(-slow * t_high) - slow * b_fast * exp(-fast * t_high)) / (
        fast - slow)
    gain = 1 / (1 + 2 * q)
    ripple = gain * v_high * (high - low)
    settling = r * c / slow * log(fast / ((fast - slow) * share))

    Two exponentials, joined over one period: the least voltage comes after the rising edge, the
    greatest after the falling one. Settling by the slow one alone, a little late.

    References
    ----------
    Circuit theory; derived here.

    Examples
    --------
    >>> found = pwm_two_sections(
    ...     v_high=3.0, duty=0.5, f_pwm=1000.0, r=10e3, c=100e-9, r_load=1e6, share=0.01
    ... )
    >>> round(found.ripple, 4), round(found.settling * 1e3, 2), round(found.gain, 4)
    (0.088, 12.25, 0.9804)
    """
    require(v_high > 0, "pwm: v_high must be above zero")
    require((duty > 0) & (duty < 1), "pwm: duty must lie between zero and one")
    require(f_pwm > 0, "pwm: f_pwm must be above zero")
    require(r > 0, "pwm: r must be above zero")
    require(c > 0, "pwm: c must be above zero")
    require(r_load > 0, "pwm: r_load must be above zero; infinite for none")
    require((share > 0) & (share < 1), "pwm: share must lie between zero and one")
    # In units of r and r c: v1' = u - 2 v1 + v2, v2' = v1 - (1 + q) v2, q the load's conductance.
    q = r / r_load
    spread = hypot((1 - q) / 2, 1.0)
    fast = (3 + q) / 2 + spread
    slow = (1 + 2 * q) / fast
    gain = 1 / (1 + 2 * q)
    period = 1 / (f_pwm * r * c)

    def left(pole: float, rest: float) -> float:
        """Return what an exponential starts from when it has had the rest of a period."""
        return (1 - exp(-pole * rest * period)) / (1 - exp(-pole * period))

    def extreme(rest: float) -> float:
        """Return the voltage over its height where it turns round in the time beside the rest."""
        by_slow, by_fast = left(slow, rest), left(fast, rest)
        at = log(by_fast / by_slow) / (fast - slow)
        sum_ = fast * by_slow * exp(-slow * at) - slow * by_fast * exp(-fast * at)
        return sum_ / (fast - slow)

    low, high = 1 - extreme(1 - duty), extreme(duty)
    return TwoSections(
        ripple=gain * v_high * (high - low),
        settling=r * c / slow * log(fast / ((fast - slow) * share)),
        gain=gain,
    )
