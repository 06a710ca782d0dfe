"""Supply: dip at the pulse, stuck pin, duty and mean currents."""

from calc.calculator import calculator, exp, require
from calc.units import Ampere, Coulomb, Farad, Ohm, Ratio, Second, Volt, Watt


@calculator
def terminal_voltage(*, v_open: Volt, r_source: Ohm, i_load: Ampere) -> Volt:
    """Return the voltage at the terminals of loaded cells.

    Parameters
    ----------
    v_open : float
        Open-circuit voltage [V].
    r_source : float
        Resistance of the cells [Ω].
    i_load : float
        Load current [A].

    Returns
    -------
    v_terminal : float
        Voltage at the terminals [V].

    Raises
    ------
    OutOfRangeError
        If v_open is not above zero, or r_source or i_load is below zero.

    Notes
    -----
    v_terminal = v_open - r_source * i_load

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> terminal_voltage(v_open=1.5, r_source=0.2, i_load=0.5)
    1.4
    """
    require(v_open > 0, "terminal_voltage: v_open must be above zero")
    require(r_source >= 0, "terminal_voltage: r_source must not be below zero")
    require(i_load >= 0, "terminal_voltage: i_load must not be below zero")
    return v_open - r_source * i_load


@calculator
def reservoir_dip(
    *, i_pulse: Ampere, pulse_width: Second, r_source: Ohm, c_reservoir: Farad
) -> Volt:
    """Return the rail's dip at the end of a pulse that a reservoir capacitor shares.

    Parameters
    ----------
    i_pulse : float
        Mean current of the pulse [A].
    pulse_width : float
        Length of the pulse [s].
    r_source : float
        Resistance of the cells that refill the reservoir [Ω].
    c_reservoir : float
        Reservoir capacitance [F].

    Returns
    -------
    v_dip : float
        Dip below the resting voltage [V].

    Raises
    ------
    OutOfRangeError
        If i_pulse or pulse_width is below zero, or r_source or c_reservoir is not above zero.

    Notes
    -----
    v_dip = i_pulse * r_source * (1 - exp(-pulse_width / (r_source * c_reservoir)))

    References
    ----------
    Step response of a resistance with a capacitor; common practice, no source.

    Examples
    --------
    >>> round(reservoir_dip(i_pulse=0.1, pulse_width=0.02, r_source=0.6, c_reservoir=1e-3), 6)
    0.06
    """
    require(i_pulse >= 0, "reservoir_dip: i_pulse must not be below zero")
    require(pulse_width >= 0, "reservoir_dip: pulse_width must not be below zero")
    require(r_source > 0, "reservoir_dip: r_source must be above zero")
    require(c_reservoir > 0, "reservoir_dip: c_reservoir must be above zero")
    return i_pulse * r_source * (1 - exp(-pulse_width / (r_source * c_reservoir)))


@calculator
def stuck_power(*, v_coil: Volt, r_coil: Ohm) -> Watt:
    """Return the power in the coil when the switch stays closed.

    Parameters
    ----------
    v_coil : float
        Voltage of the coil's rail [V].
    r_coil : float
        Coil resistance [Ω].

    Returns
    -------
    p_stuck : float
        Power [W].

    Raises
    ------
    OutOfRangeError
        If v_coil is below zero or r_coil is not above zero.

    Notes
    -----
    p_stuck = v_coil**2 / r_coil

    References
    ----------
    Joule's law; common practice, no source.

    Examples
    --------
    >>> stuck_power(v_coil=3.0, r_coil=30.0)
    0.3
    """
    require(v_coil >= 0, "stuck_power: v_coil must not be below zero")
    require(r_coil > 0, "stuck_power: r_coil must be above zero")
    return v_coil**2 / r_coil


@calculator
def time_to_flat(*, q_cell: Coulomb, i_load: Ampere) -> Second:
    """Return how long a charge lasts at a steady current.

    Parameters
    ----------
    q_cell : float
        Charge of the cells [C].
    i_load : float
        Steady current [A].

    Returns
    -------
    t_flat : float
        Time [s].

    Raises
    ------
    OutOfRangeError
        If q_cell is below zero or i_load is not above zero.

    Notes
    -----
    t_flat = q_cell / i_load

    References
    ----------
    Charge over current; common practice, no source.

    Examples
    --------
    >>> time_to_flat(q_cell=7200.0, i_load=0.1)
    72000.0
    """
    require(q_cell >= 0, "time_to_flat: q_cell must not be below zero")
    require(i_load > 0, "time_to_flat: i_load must be above zero")
    return q_cell / i_load


@calculator
def pulse_duty(*, pulse_width: Second, interval: Second, pulses: Ratio, duty: Ratio) -> Ratio:
    """Return the share of the time that the coil is fed.

    Parameters
    ----------
    pulse_width : float
        Length of one pulse [s].
    interval : float
        Time in which the pulses come [s].
    pulses : float
        Pulses in that time [1].
    duty : float
        Share of each pulse that is on, one without chopping [1].

    Returns
    -------
    share : float
        Share of the time [1].

    Raises
    ------
    OutOfRangeError
        If pulse_width or pulses is below zero, interval is not above zero, duty lies outside
        0 to 1, or the pulses do not fit into the interval.

    Notes
    -----
    share = pulses * pulse_width / interval * duty

    References
    ----------
    Definition of duty; common practice, no source.

    Examples
    --------
    >>> round(pulse_duty(pulse_width=0.12, interval=1.0, pulses=2.0, duty=1.0), 6)
    0.24
    """
    require(pulse_width >= 0, "pulse_duty: pulse_width must not be below zero")
    require(interval > 0, "pulse_duty: interval must be above zero")
    require(pulses >= 0, "pulse_duty: pulses must not be below zero")
    require((duty >= 0) & (duty <= 1), "pulse_duty: duty must lie in 0 to 1")
    require(
        pulses * pulse_width <= interval,
        "pulse_duty: the pulses must fit into the interval; they overlap",
    )
    return pulses * pulse_width / interval * duty


@calculator
def mean_current(*, q_event: Coulomb, interval: Second) -> Ampere:
    """Return the mean current of a charge that is drawn once in an interval.

    Parameters
    ----------
    q_event : float
        Charge drawn each time [C].
    interval : float
        Time between [s].

    Returns
    -------
    i_mean : float
        Mean current [A].

    Raises
    ------
    OutOfRangeError
        If q_event is below zero or interval is not above zero.

    Notes
    -----
    i_mean = q_event / interval

    References
    ----------
    Charge over time; common practice, no source.

    Examples
    --------
    >>> round(mean_current(q_event=1.7e-3 * 78e-3, interval=0.667) * 1e6, 1)
    198.8
    """
    require(q_event >= 0, "mean_current: q_event must not be below zero")
    require(interval > 0, "mean_current: interval must be above zero")
    return q_event / interval
