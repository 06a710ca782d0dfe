"""Clamp in closed forms: release of an inductive current against a constant voltage."""

from scipy.optimize import brentq

from calc.calculator import calculator, log, require, routine
from calc.clamp_law import ClampLaw
from calc.units import Ampere, Henry, Joule, Ohm, Ratio, Second, Volt


@calculator
def release_time(
    *, i_coil: Ampere, r_coil: Ohm, l_coil: Henry, v_clamp: Volt, fraction: Ratio
) -> Second:
    """Return how long the current takes to fall to a fraction against a constant voltage.

    Parameters
    ----------
    i_coil : float
        Current at switching off [A].
    r_coil : float
        Coil resistance [Ω].
    l_coil : float
        Coil inductance [H].
    v_clamp : float
        Voltage that the clamp sets against the current [V].
    fraction : float
        Share of the current that is left, zero for the whole release [1].

    Returns
    -------
    t_release : float
        Time from switching off [s].

    Raises
    ------
    OutOfRangeError
        If i_coil, r_coil, l_coil or v_clamp is not above zero, or fraction lies outside 0 to 1.

    Notes
    -----
    t_release = (l_coil / r_coil)
        * log((i_coil * r_coil + v_clamp) / (fraction * i_coil * r_coil + v_clamp))

    References
    ----------
    Solution of l di/dt = -(i r + v); common practice, no source.

    Examples
    --------
    >>> t = release_time(i_coil=0.2, r_coil=50.0, l_coil=0.1, v_clamp=0.7, fraction=0.0)
    >>> round(t * 1e3, 4)
    5.4538
    """
    require(i_coil > 0, "release_time: i_coil must be above zero")
    require(r_coil > 0, "release_time: r_coil must be above zero")
    require(l_coil > 0, "release_time: l_coil must be above zero")
    require(v_clamp > 0, "release_time: v_clamp must be above zero; without it see resistor clamp")
    require((fraction >= 0) & (fraction <= 1), "release_time: fraction must lie in 0 to 1")
    return (l_coil / r_coil) * log(
        (i_coil * r_coil + v_clamp) / (fraction * i_coil * r_coil + v_clamp)
    )


@calculator
def resistor_release_time(*, r_coil: Ohm, l_coil: Henry, r_clamp: Ohm, fraction: Ratio) -> Second:
    """Return how long the current takes to fall to a fraction through a resistor on the coil.

    Parameters
    ----------
    r_coil : float
        Coil resistance [Ω].
    l_coil : float
        Coil inductance [H].
    r_clamp : float
        Resistor across the coil [Ω].
    fraction : float
        Share of the current that is left [1].

    Returns
    -------
    t_release : float
        Time from switching off [s].

    Raises
    ------
    OutOfRangeError
        If r_coil, l_coil or fraction is not above zero, r_clamp is below zero, or fraction is
        above one.

    Notes
    -----
    t_release = l_coil / (r_coil + r_clamp) * log(1 / fraction)

    References
    ----------
    Solution of l di/dt = -i (r + r_clamp); common practice, no source.

    Examples
    --------
    >>> t = resistor_release_time(r_coil=55.0, l_coil=0.2, r_clamp=680.0, fraction=0.05)
    >>> round(t * 1e3, 4)
    0.8152
    """
    require(r_coil > 0, "resistor_release_time: r_coil must be above zero")
    require(l_coil > 0, "resistor_release_time: l_coil must be above zero")
    require(r_clamp >= 0, "resistor_release_time: r_clamp must not be below zero")
    require((fraction > 0) & (fraction <= 1), "resistor_release_time: fraction must lie in 0 to 1")
    return l_coil / (r_coil + r_clamp) * log(1 / fraction)


@calculator
def resistor_peak(*, i_coil: Ampere, r_clamp: Ohm) -> Volt:
    """Return the kick above the supply with a resistor across the coil.

    Parameters
    ----------
    i_coil : float
        Current at switching off [A].
    r_clamp : float
        Resistor across the coil [Ω].

    Returns
    -------
    v_kick : float
        Voltage above the supply [V].

    Raises
    ------
    OutOfRangeError
        If a value is below zero.

    Notes
    -----
    v_kick = i_coil * r_clamp

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> round(resistor_peak(i_coil=0.1, r_clamp=680.0), 6)
    68.0
    """
    require(i_coil >= 0, "resistor_peak: i_coil must not be below zero")
    require(r_clamp >= 0, "resistor_peak: r_clamp must not be below zero")
    return i_coil * r_clamp


@calculator
def stored_energy(*, l_coil: Henry, i_coil: Ampere) -> Joule:
    """Return the energy in the coil's field.

    Parameters
    ----------
    l_coil : float
        Coil inductance [H].
    i_coil : float
        Coil current [A].

    Returns
    -------
    e_stored : float
        Energy [J].

    Raises
    ------
    OutOfRangeError
        If l_coil is not above zero, or i_coil is below zero.

    Notes
    -----
    e_stored = l_coil * i_coil**2 / 2

    References
    ----------
    Energy of an inductance; common practice, no source.

    Examples
    --------
    >>> round(stored_energy(l_coil=0.1, i_coil=0.2), 9)
    0.002
    """
    require(l_coil > 0, "stored_energy: l_coil must be above zero")
    require(i_coil >= 0, "stored_energy: i_coil must not be below zero")
    return l_coil * i_coil**2 / 2


@calculator
def clamp_energy(*, i_coil: Ampere, r_coil: Ohm, l_coil: Henry, v_clamp: Volt) -> Joule:
    """Return the energy that a clamp of constant voltage takes in one release.

    Parameters
    ----------
    i_coil : float
        Current at switching off [A].
    r_coil : float
        Coil resistance [Ω].
    l_coil : float
        Coil inductance [H].
    v_clamp : float
        Voltage that the clamp sets against the current [V].

    Returns
    -------
    e_clamp : float
        Energy [J].

    Raises
    ------
    OutOfRangeError
        If a value is not above zero.

    Notes
    -----
    e_clamp = v_clamp * (l_coil / r_coil)
        * (i_coil - v_clamp / r_coil * log(1 + i_coil * r_coil / v_clamp))

    References
    ----------
    Integral of v i over the release; common practice, no source.

    Examples
    --------
    >>> round(clamp_energy(i_coil=0.5, r_coil=24.0, l_coil=0.24, v_clamp=0.7) * 1e3, 3)
    2.908
    """
    require(i_coil > 0, "clamp_energy: i_coil must be above zero")
    require(r_coil > 0, "clamp_energy: r_coil must be above zero")
    require(l_coil > 0, "clamp_energy: l_coil must be above zero")
    require(v_clamp > 0, "clamp_energy: v_clamp must be above zero")
    return (
        v_clamp
        * (l_coil / r_coil)
        * (i_coil - v_clamp / r_coil * log(1 + i_coil * r_coil / v_clamp))
    )


@calculator
def switch_zener_energy(*, i_coil: Ampere, l_coil: Henry, v_z: Volt, v_supply: Volt) -> Joule:
    """Return the energy that a zener across the switch takes, the supply's share included.

    Parameters
    ----------
    i_coil : float
        Current at switching off [A].
    l_coil : float
        Coil inductance [H].
    v_z : float
        Zener voltage [V].
    v_supply : float
        Supply voltage, which goes on feeding the coil during the release [V].

    Returns
    -------
    e_zener : float
        Energy, with the coil's own resistance left out [J].

    Raises
    ------
    OutOfRangeError
        If l_coil is not above zero, i_coil or v_supply is below zero, or v_z does not exceed
        v_supply.

    Notes
    -----
    e_zener = l_coil * i_coil**2 / 2 * v_z / (v_z - v_supply)

    References
    ----------
    Integral of v_z i over the release at zero resistance; common practice, no source.

    Examples
    --------
    >>> round(switch_zener_energy(i_coil=0.5, l_coil=0.24, v_z=24.0, v_supply=12.0), 6)
    0.06
    """
    require(l_coil > 0, "switch_zener_energy: l_coil must be above zero")
    require(i_coil >= 0, "switch_zener_energy: i_coil must not be below zero")
    require(v_supply >= 0, "switch_zener_energy: v_supply must not be below zero")
    require(
        v_z > v_supply,
        "switch_zener_energy: v_z must exceed v_supply; below it the zener conducts all the time",
    )
    return l_coil * i_coil**2 / 2 * v_z / (v_z - v_supply)


@calculator
def resistor_standing_current(*, v_coil: Volt, r_clamp: Ohm, duty: Ratio) -> Ampere:
    """Return the mean current that a resistor across the coil draws while the switch is on.

    Parameters
    ----------
    v_coil : float
        Voltage across the coil while on [V].
    r_clamp : float
        Resistor across the coil [Ω].
    duty : float
        Share of the time that the switch is closed [1].

    Returns
    -------
    i_standing : float
        Mean current [A].

    Raises
    ------
    OutOfRangeError
        If v_coil is below zero, r_clamp is not above zero, or duty lies outside 0 to 1.

    Notes
    -----
    i_standing = v_coil / r_clamp * duty

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> i = resistor_standing_current(v_coil=1.5, r_clamp=5100.0, duty=78 / 667)
    >>> round(i * 1e6, 2)
    34.39
    """
    require(v_coil >= 0, "resistor_standing_current: v_coil must not be below zero")
    require(r_clamp > 0, "resistor_standing_current: r_clamp must be above zero")
    require((duty >= 0) & (duty <= 1), "resistor_standing_current: duty must lie in 0 to 1")
    return v_coil / r_clamp * duty


@routine
def standing_current(*, clamp: ClampLaw, v_supply: Volt, r_loop: Ohm) -> Ampere:
    """Return the current that flows through coil and clamp while nothing moves.

    Parameters
    ----------
    clamp : ClampLaw
        The clamp; only one across the switch can conduct at rest.
    v_supply : float
        Voltage of the coil's rail [V].
    r_loop : float
        Resistance of coil and cells [Ω].

    Returns
    -------
    i_rest : float
        Current; zero where the clamp blocks [A].

    Raises
    ------
    OutOfRangeError
        If v_supply or r_loop is not above zero.

    Notes
    -----
    By root finding; held by test_standing_current_obeys_the_loop.

    References
    ----------
    Kirchhoff's voltage law round supply, coil and clamp; common practice, no source.

    Examples
    --------
    >>> zener = ClampLaw(v_constant=2.6, resistance=20.0, from_supply=True)
    >>> round(standing_current(clamp=zener, v_supply=3.0, r_loop=30.0), 9)
    0.008
    """
    require(v_supply > 0, "standing_current: v_supply must be above zero")
    require(r_loop > 0, "standing_current: r_loop must be above zero")
    if not float(clamp.opposing(0.0, v_supply)) < 0:
        return 0.0
    most = v_supply / r_loop
    left = brentq(
        lambda i: float(clamp.opposing(i, v_supply)) + r_loop * i, 0.0, most, xtol=1e-13 * most,
        rtol=1e-12,
    )  # fmt: skip
    return float(left)
