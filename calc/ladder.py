"""Low-pass ladders with their source and load: cut-off, poles, delay and mains rejection."""

from dataclasses import dataclass

from calc.calculator import arctan, calculator, pi, require, sqrt
from calc.units import Farad, Henry, Hertz, Ohm, Radian, Ratio, Second


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """A ladder of one or two poles as the load sees it."""

    gain: Ratio
    delay: Second
    tau_slow: Second
    tau_fast: Second
    f_c: Hertz


@calculator
def ladder(
    *,
    r_source: Ohm,
    r_upper: Ohm,
    r_lower: Ohm,
    r_3: Ohm,
    c_1: Farad,
    r_4: Ohm,
    c_2: Farad,
    r_load: Ohm,
    l_source: Henry,
) -> Ladder:
    """Return the behaviour of a divider followed by a low-pass of one or two poles.

    Parameters
    ----------
    r_source : float
        Resistance of the source, such as the coil [ohm].
    r_upper : float
        Upper resistor of the divider [ohm].
    r_lower : float
        Lower resistor of the divider, infinite for none [ohm].
    r_3 : float
        First series resistor [ohm].
    c_1 : float
        First capacitor to ground [F].
    r_4 : float
        Second series resistor, zero for one pole [ohm].
    c_2 : float
        Second capacitor to ground, zero for one pole [F].
    r_load : float
        Resistance of the load, infinite for none [ohm].
    l_source : float
        Inductance of the source, zero where it does not count [H].

    Returns
    -------
    ladder : Ladder
        Gain and delay at zero frequency, time constants of the poles, and the true frequency at
        which the gain has fallen by 3 dB.

    Raises
    ------
    OutOfRangeError
        If a resistance, capacitance or inductance is negative, there is no resistance before
        c_1, or the source's inductance rings with the capacitors.

    Notes
    -----
    k = 1 + (r_source + r_upper) / r_lower
    r_a = r_3 + (r_source + r_upper) / k
    c_a = c_1 * (1 + r_4 / r_load) + c_2
    d_0 = 1 + (r_a + r_4) / r_load
    d_1 = (r_4 * c_2 + r_a * c_a
        + l_source / k * ((1 + (r_3 + r_4) / r_load) / r_lower + 1 / r_load))
    d_2 = (r_a * c_1 * r_4 * c_2
        + l_source / k * ((r_4 * c_2 + r_3 * c_a) / r_lower + c_a))
    gain = 1 / k / d_0
    delay = d_1 / d_0
    tau_slow = (d_1 + sqrt(d_1**2 - 4 * d_0 * d_2)) / (2 * d_0)
    tau_fast = d_2 / d_0 / tau_slow
    b = d_1**2 - 2 * d_0 * d_2
    f_c = sqrt(2 * d_0**2 / (b + sqrt(b**2 + 4 * d_0**2 * d_2**2))) / (2 * pi)

    The second pole loads the first: two equal poles fall by 3 dB at 0.3742 of 1/(2 pi R C).
    With two poles the inductance would add a third, far above them; its terms of first and
    second order are kept.

    References
    ----------
    Nodal analysis of the ladder; textbook circuit theory, no source needed.

    Examples
    --------
    >>> found = ladder(
    ...     l_source=0.0, r_source=0.0, r_upper=1e-3, r_lower=float("inf"),
    ...     r_3=10e3, c_1=1e-6, r_4=10e3, c_2=1e-6, r_load=float("inf"),
    ... )
    >>> round(found.f_c, 3), round(found.delay, 4)
    (5.956, 0.03)
    """
    require(r_source >= 0, "ladder: r_source must not be negative; give the source's resistance")
    require(r_upper >= 0, "ladder: r_upper must not be negative; zero stands for no divider")
    require(r_lower > 0, "ladder: r_lower must be above zero; infinite stands for no divider")
    require(r_3 >= 0, "ladder: r_3 must not be negative; give the first series resistor")
    require(c_1 > 0, "ladder: c_1 must be above zero; give the first capacitor")
    require(r_4 >= 0, "ladder: r_4 must not be negative; zero stands for one pole")
    require(c_2 >= 0, "ladder: c_2 must not be negative; zero stands for one pole")
    require(r_load > 0, "ladder: r_load must be above zero; infinite stands for no load")
    require(l_source >= 0, "ladder: l_source must not be negative; zero neglects it")
    k = 1 + (r_source + r_upper) / r_lower
    r_a = r_3 + (r_source + r_upper) / k
    require(r_a > 0, "ladder: some resistance must precede c_1; without it there is no filter")
    c_a = c_1 * (1 + r_4 / r_load) + c_2
    d_0 = 1 + (r_a + r_4) / r_load
    d_1 = r_4 * c_2 + r_a * c_a + l_source / k * ((1 + (r_3 + r_4) / r_load) / r_lower + 1 / r_load)
    d_2 = r_a * c_1 * r_4 * c_2 + l_source / k * ((r_4 * c_2 + r_3 * c_a) / r_lower + c_a)
    require(
        d_1**2 >= 4 * d_0 * d_2,
        "ladder: the source's inductance rings with the capacitors; put more resistance before c_1",
    )
    tau_slow = (d_1 + sqrt(d_1**2 - 4 * d_0 * d_2)) / (2 * d_0)
    b = d_1**2 - 2 * d_0 * d_2
    return Ladder(
        gain=1 / k / d_0,
        delay=d_1 / d_0,
        tau_slow=tau_slow,
        tau_fast=d_2 / d_0 / tau_slow,
        f_c=sqrt(2 * d_0**2 / (b + sqrt(b**2 + 4 * d_0**2 * d_2**2))) / (2 * pi),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """What a chain of poles does to a sine."""

    gain: Ratio
    phase: Radian
    phase_delay: Second
    group_delay: Second


@calculator
def response(
    *, f: Hertz, gain_dc: Ratio, tau_high: Second, tau_slow: Second, tau_fast: Second
) -> Response:
    """Return gain, phase and delays at one frequency.

    Parameters
    ----------
    f : float
        Frequency [Hz].
    gain_dc : float
        Gain at zero frequency, or in the pass band with a high-pass [1].
    tau_high : float
        Time constant of a coupling capacitor before the low-pass, infinite for none [s].
    tau_slow : float
        Time constant of the slower pole [s].
    tau_fast : float
        Time constant of the faster pole, zero for none [s].

    Returns
    -------
    response : Response
        Gain, phase (negative lags) and delays; the coupling capacitor leads.

    Raises
    ------
    OutOfRangeError
        If f or tau_high is not above zero, or another time constant is negative.

    Notes
    -----
    w = 2 * pi * f
    gain = gain_dc / sqrt((1 + 1 / (w * tau_high)**2) * (1 + (w * tau_slow)**2)
        * (1 + (w * tau_fast)**2))
    phase = arctan(1 / (w * tau_high)) - arctan(w * tau_slow) - arctan(w * tau_fast)
    phase_delay = -phase / w
    group_delay = 1 / tau_high / (1 / tau_high**2 + w**2) + tau_slow / (1 + (w * tau_slow)**2)
        + tau_fast / (1 + (w * tau_fast)**2)

    References
    ----------
    Textbook relation (poles in cascade); no source needed.

    Examples
    --------
    >>> found = response(
    ...     f=159.15494, gain_dc=1.0, tau_high=float("inf"), tau_slow=1e-3, tau_fast=0.0
    ... )
    >>> round(found.gain, 4), round(found.phase, 4)
    (0.7071, -0.7854)
    """
    require(f > 0, "response: f must be above zero; give the frequency")
    require(tau_high > 0, "response: tau_high must be above zero; infinite stands for none")
    require(tau_slow >= 0, "response: tau_slow must not be negative; zero stands for none")
    require(tau_fast >= 0, "response: tau_fast must not be negative; zero stands for none")
    require(abs(gain_dc) >= 0, "response: gain_dc must be a number; give the gain")
    w = 2 * pi * f
    phase = arctan(1 / (w * tau_high)) - arctan(w * tau_slow) - arctan(w * tau_fast)
    return Response(
        gain=gain_dc
        / sqrt(
            (1 + 1 / (w * tau_high) ** 2) * (1 + (w * tau_slow) ** 2) * (1 + (w * tau_fast) ** 2)
        ),
        phase=phase,
        phase_delay=-phase / w,
        group_delay=1 / tau_high / (1 / tau_high**2 + w**2)
        + tau_slow / (1 + (w * tau_slow) ** 2)
        + tau_fast / (1 + (w * tau_fast) ** 2),
    )


@calculator
def pole_frequency(*, r: Ohm, c: Farad) -> Hertz:
    """Return the cut-off of one resistor and one capacitor with an ideal source and no load.

    Parameters
    ----------
    r : float
        Resistance [ohm].
    c : float
        Capacitance [F].

    Returns
    -------
    f_c : float
        Frequency at which the gain has fallen by 3 dB [Hz].

    Raises
    ------
    OutOfRangeError
        If r or c is not above zero.

    Notes
    -----
    f_c = 1 / (2 * pi * r * c)

    References
    ----------
    Textbook identity; no source needed.

    Examples
    --------
    >>> round(pole_frequency(r=10e3, c=100e-9), 3)
    159.155
    """
    require(r > 0, "pole_frequency: r must be above zero; give the resistance")
    require(c > 0, "pole_frequency: c must be above zero; give the capacitance")
    return 1 / (2 * pi * r * c)


@calculator
def equal_poles_frequency(*, r: Ohm, c: Farad) -> Hertz:
    """Return the true cut-off of two equal poles that follow each other without a buffer.

    Parameters
    ----------
    r : float
        Each resistance [ohm].
    c : float
        Each capacitance [F].

    Returns
    -------
    f_c : float
        Frequency at which the gain has fallen by 3 dB [Hz].

    Raises
    ------
    OutOfRangeError
        If r or c is not above zero.

    Notes
    -----
    f_c = sqrt((sqrt(53) - 7) / 2) / (2 * pi * r * c)

    The root is 0.3742; it is 0.6436 only with an ideal buffer between the poles.

    References
    ----------
    Solved from the transfer function 1/(1 + 3 s R C + (s R C)^2); no source needed.

    Examples
    --------
    >>> round(equal_poles_frequency(r=10e3, c=1e-6), 4)
    5.9562
    """
    require(r > 0, "equal_poles_frequency: r must be above zero; give the resistance")
    require(c > 0, "equal_poles_frequency: c must be above zero; give the capacitance")
    return sqrt((sqrt(53.0) - 7) / 2) / (2 * pi * r * c)


@calculator
def poles_cutoff(*, tau_slow: Second, tau_fast: Second) -> Hertz:
    """Return the true cut-off of two separate poles.

    Parameters
    ----------
    tau_slow : float
        Time constant of the slower pole [s].
    tau_fast : float
        Time constant of the faster pole, zero for none [s].

    Returns
    -------
    f_c : float
        Frequency at which the gain has fallen by 3 dB [Hz].

    Raises
    ------
    OutOfRangeError
        If tau_slow is not above zero or tau_fast is negative.

    Notes
    -----
    a = tau_slow**2 + tau_fast**2
    f_c = sqrt(2 / (a + sqrt(a**2 + 4 * tau_slow**2 * tau_fast**2))) / (2 * pi)

    References
    ----------
    Solved from the product of two poles; no source needed.

    Examples
    --------
    >>> round(poles_cutoff(tau_slow=1e-3, tau_fast=1e-3), 2)
    102.43
    """
    require(tau_slow > 0, "poles_cutoff: tau_slow must be above zero; give the time constant")
    require(tau_fast >= 0, "poles_cutoff: tau_fast must not be negative; zero stands for none")
    a = tau_slow**2 + tau_fast**2
    return sqrt(2 / (a + sqrt(a**2 + 4 * tau_slow**2 * tau_fast**2))) / (2 * pi)
