"""The pass band between a coupling capacitor and a low-pass: its height and its upper end."""

from dataclasses import dataclass
from math import inf, pi, sqrt

from calc.calculator import require, routine
from calc.ladder import poles_cutoff
from calc.units import Hertz, Ratio, Second

_ROUNDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class PassBand:
    """Height of the pass band over that of its parts, and where it has fallen by 3 dB above."""

    height: Ratio
    f_c: Hertz


def _loss(w: float, tau_high: float, tau_slow: float, tau_fast: float) -> float:
    return (1 + 1 / (w * tau_high) ** 2) * (1 + (w * tau_slow) ** 2) * (1 + (w * tau_fast) ** 2)


@routine
def pass_band(*, tau_high: Second, tau_slow: Second, tau_fast: Second) -> PassBand:
    """Return height and upper cut-off of a pass band.

    Parameters
    ----------
    tau_high : float
        Time constant of the coupling capacitor, infinite for none [s].
    tau_slow : float
        Time constant of the slower low-pass [s].
    tau_fast : float
        Time constant of the faster low-pass, zero for none [s].

    Returns
    -------
    band : PassBand
        Greatest gain over the gain that the poles would have far apart, and the frequency above
        it at which the gain is 3 dB less.

    Raises
    ------
    OutOfRangeError
        If tau_high or tau_slow is not above zero, or tau_fast is negative.

    Notes
    -----
    By root finding on the squared gain; held by test_pass_band_is_where_the_response_says.

    References
    ----------
    Textbook relation (poles in cascade); no source needed.

    Examples
    --------
    >>> band = pass_band(tau_high=0.1, tau_slow=0.01, tau_fast=0.0)
    >>> round(band.height, 4), round(band.f_c, 2)
    (0.9091, 18.85)
    """
    require(tau_high > 0, "pass_band: tau_high must be above zero; infinite stands for none")
    require(tau_slow > 0, "pass_band: tau_slow must be above zero; give the filter's pole")
    require(tau_fast >= 0, "pass_band: tau_fast must not be negative; zero stands for none")
    plain = 2 * pi * poles_cutoff(tau_slow=tau_slow, tau_fast=tau_fast)
    if tau_high == inf:
        return PassBand(height=1.0, f_c=plain / (2 * pi))
    # The slope of log(loss) rises with the frequency's logarithm: one root, one least loss.
    low, high = 1e-6 / (tau_high + tau_slow), 1e6 * (1 / tau_high + plain)
    for _ in range(_ROUNDS * 2):
        w = sqrt(low * high)
        falling = -2 / (1 + (w * tau_high) ** 2)
        rising = sum(2 * (w * tau) ** 2 / (1 + (w * tau) ** 2) for tau in (tau_slow, tau_fast))
        low, high = (w, high) if falling + rising < 0 else (low, w)
    top = sqrt(low * high)
    least = _loss(top, tau_high, tau_slow, tau_fast)
    low, high = top, 10 * (top + plain) + 10 / tau_high
    for _ in range(_ROUNDS):
        w = sqrt(low * high)
        low, high = (w, high) if _loss(w, tau_high, tau_slow, tau_fast) < 2 * least else (low, w)
    return PassBand(height=1 / sqrt(least), f_c=sqrt(low * high) / (2 * pi))
