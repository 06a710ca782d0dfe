"""Sampling of a voltage by a converter: settling, source limit, step and the filter's help."""

from calc.calculator import calculator, log, require
from calc.units import Farad, Ohm, Ratio, Second, Volt


@calculator
def sampling_source_limit(
    *, t_sample: Second, c_adc: Farad, r_adc: Ohm, n_bits: Ratio, lsb_share: Ratio = 0.25
) -> Ohm:
    """Return the largest source resistance from which a sample still settles.

    Parameters
    ----------
    t_sample : float
        Time for which the sampling switch stays closed [s].
    c_adc : float
        Sampling capacitance [F].
    r_adc : float
        Resistance of the sampling switch [ohm].
    n_bits : float
        Resolution in bits [1].
    lsb_share : float
        Share of one step that may be missing [1].

    Returns
    -------
    r_source_max : float
        Largest resistance of the source [ohm].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero, or the switch alone is too slow.

    Notes
    -----
    r_source_max = t_sample / (c_adc * (n_bits * log(2) - log(lsb_share))) - r_adc

    References
    ----------
    ST, STM32F101/F103 data sheets, equation 1 for R_AIN.

    Examples
    --------
    >>> round(sampling_source_limit(t_sample=7.5 / 14e6, c_adc=8e-12, r_adc=1e3, n_bits=12.0), 0)
    5901.0
    """
    require(t_sample > 0, "sampling_source_limit: t_sample must be above zero; give the time")
    require(c_adc > 0, "sampling_source_limit: c_adc must be above zero; see the data sheet")
    require(r_adc > 0, "sampling_source_limit: r_adc must be above zero; see the data sheet")
    require(n_bits > 0, "sampling_source_limit: n_bits must be above zero; give the resolution")
    require(lsb_share > 0, "sampling_source_limit: lsb_share must be above zero; 0.25 is usual")
    limit = t_sample / (c_adc * (n_bits * log(2.0) - log(lsb_share))) - r_adc
    require(limit > 0, "sampling_source_limit: t_sample must be longer; no source is stiff enough")
    return limit


@calculator
def settling_time(
    *, r_source: Ohm, r_adc: Ohm, c_adc: Farad, n_bits: Ratio, lsb_share: Ratio = 0.25
) -> Second:
    """Return how long the sampling switch must stay closed.

    Parameters
    ----------
    r_source : float
        Resistance of the source [ohm].
    r_adc : float
        Resistance of the sampling switch [ohm].
    c_adc : float
        Sampling capacitance [F].
    n_bits : float
        Resolution in bits [1].
    lsb_share : float
        Share of one step that may be missing [1].

    Returns
    -------
    t_sample : float
        Least sampling time [s].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    t_sample = (r_source + r_adc) * c_adc * (n_bits * log(2) - log(lsb_share))

    References
    ----------
    ST, STM32F101/F103 data sheets, equation 1 for R_AIN, solved for the time.

    Examples
    --------
    >>> round(settling_time(r_source=10e3, r_adc=1e3, c_adc=14e-12, n_bits=10.0) * 1e6, 3)
    1.281
    """
    require(r_source > 0, "settling_time: r_source must be above zero; give the source")
    require(r_adc > 0, "settling_time: r_adc must be above zero; see the data sheet")
    require(c_adc > 0, "settling_time: c_adc must be above zero; see the data sheet")
    require(n_bits > 0, "settling_time: n_bits must be above zero; give the resolution")
    require(lsb_share > 0, "settling_time: lsb_share must be above zero; 0.25 is usual")
    return (r_source + r_adc) * c_adc * (n_bits * log(2.0) - log(lsb_share))


@calculator
def quantisation_step(*, v_reference: Volt, n_bits: Ratio) -> Volt:
    """Return the voltage of one step of a converter.

    Parameters
    ----------
    v_reference : float
        Voltage of full scale [V].
    n_bits : float
        Resolution in bits [1].

    Returns
    -------
    v_step : float
        Voltage of one step [V].

    Raises
    ------
    OutOfRangeError
        If v_reference or n_bits is not above zero.

    Notes
    -----
    v_step = v_reference / 2**n_bits

    References
    ----------
    Definition; no source needed.

    Examples
    --------
    >>> round(quantisation_step(v_reference=1.65, n_bits=10.0) * 1e3, 2)
    1.61
    """
    require(v_reference > 0, "quantisation_step: v_reference must be above zero; give full scale")
    require(n_bits > 0, "quantisation_step: n_bits must be above zero; give the resolution")
    return v_reference / 2**n_bits


@calculator
def shared_charge(*, c_adc: Farad, c_filter: Farad) -> Ratio:
    """Return the share of the voltage that a sample takes from the capacitor at the pin.

    Parameters
    ----------
    c_adc : float
        Sampling capacitance [F].
    c_filter : float
        Capacitor at the pin [F].

    Returns
    -------
    share : float
        Greatest share of the voltage that is missing in a sample [1].

    Raises
    ------
    OutOfRangeError
        If c_adc is below zero or c_filter is not above zero.

    Notes
    -----
    share = c_adc / (c_adc + c_filter)

    References
    ----------
    Conservation of charge; no source needed.

    Examples
    --------
    >>> shared_charge(c_adc=25e-12, c_filter=99975e-12)
    0.00025
    """
    require(c_adc >= 0, "shared_charge: c_adc must not be negative; see the data sheet")
    require(c_filter > 0, "shared_charge: c_filter must be above zero; give the capacitor")
    return c_adc / (c_adc + c_filter)
