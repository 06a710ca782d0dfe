"""Chooses resistor and capacitor of the filter, or takes what is stated."""

from dataclasses import dataclass
from math import inf, pi, sqrt

from calc.calculator import OutOfRangeError
from calc.coupling import CoupledLadder, coupled_ladder
from calc.ladder import Ladder, ladder, response
from calc.pass_band import pass_band
from circuits.design import Design
from circuits.preferred_values import nearest
from circuits.stages.pickup import PickupResult

ONE_POLE_SHARE = 0.3
"""Time constant as a share of the lobes' spacing at which one pole keeps 0.8 of the peak."""
ONE_POLE_MOST = 0.45
"""Share at which one pole keeps 0.7."""
TWO_POLE_SHARE = 0.11
"""Time constant of each of two equal poles, as a share, at which they keep 0.8."""
TWO_POLE_MOST = 0.16
"""Share at which two equal poles keep 0.7."""
FORGETFUL = 0.4
"""How much faster the filter is where the crossing follows soon after the pulse."""
EQUAL_POLES = 0.37423
LEAST = 1e-3
"""Some resistance is always there; with none at all two capacitors would be one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The filter's parts and its poles with source and load; `f_c` in its pass band."""

    poles: int
    r: float
    c: float
    gain: float
    tau_high: float
    tau_slow: float
    tau_fast: float
    f_c: float
    delay: float


def solve(pickup: PickupResult, poles: int, r: float, c: float) -> Chosen:
    """Solve the ladder with the pickup as source and the pin as load.

    A winding that rings with almost no filter behind it does so far above the pass: there it
    counts as its resistance alone.
    """
    try:
        return _solve(pickup, poles, r, c, pickup.l_winding)
    except OutOfRangeError:
        return _solve(pickup, poles, max(r, LEAST), c, 0.0)


def _solve(pickup: PickupResult, poles: int, r: float, c: float, l_source: float) -> Chosen:
    second = poles - 1
    load = pickup.pin.r_load if pickup.pin is not None else inf
    if pickup.coupling is not None:
        coupled: CoupledLadder = coupled_ladder(
            r_source=pickup.r_winding,
            c_coupling=pickup.coupling,
            r_bias=1 / (1 / pickup.r_upper + 1 / pickup.r_lower),
            r_3=r, c_1=c, r_4=second * r, c_2=second * c, r_load=load,
            l_source=l_source,
        )  # fmt: skip
        return Chosen(
            poles=poles, r=r, c=c, gain=coupled.gain, tau_high=coupled.tau_high,
            tau_slow=coupled.tau_slow, tau_fast=coupled.tau_fast,
            f_c=pass_band(
                tau_high=coupled.tau_high, tau_slow=coupled.tau_slow, tau_fast=coupled.tau_fast
            ).f_c,
            delay=coupled.tau_slow + coupled.tau_fast,
        )  # fmt: skip
    at_switch = pickup.arrangement == "at_switch"
    found: Ladder = ladder(
        r_source=pickup.r_winding,
        r_upper=pickup.r_upper if at_switch else 0.0,
        r_lower=pickup.r_lower if at_switch else inf,
        r_3=r, c_1=c, r_4=second * r, c_2=second * c, r_load=load,
        l_source=l_source,
    )  # fmt: skip
    return Chosen(
        poles=poles, r=r, c=c, gain=found.gain, tau_high=inf, tau_slow=found.tau_slow,
        tau_fast=found.tau_fast, f_c=found.f_c, delay=found.delay,
    )  # fmt: skip


def mains_gain(chosen: Chosen, f: float) -> float:
    """Return the gain at a frequency relative to the pass band."""
    band = pass_band(tau_high=chosen.tau_high, tau_slow=chosen.tau_slow, tau_fast=chosen.tau_fast)
    return response(
        f=f, gain_dc=1 / band.height, tau_high=chosen.tau_high, tau_slow=chosen.tau_slow,
        tau_fast=chosen.tau_fast,
    ).gain  # fmt: skip


def turns_of(rejection: float, poles: int) -> float:
    """Return 2 pi f R C at which one pole, or two equal loaded ones, divide by a rejection."""
    most = max(rejection, 1.005)
    if poles == 1:
        return sqrt(most**2 - 1)
    return sqrt((sqrt(45 + 4 * most**2) - 7) / 2)


def _wanted(design: Design, spacing: float, f_mains: float) -> tuple[int, float]:
    """Return poles and time constant that keep the lobes and meet the mains rejection."""
    rejection = design.filter.mains_rejection
    poles = design.filter.poles
    if design.filter.cutoff is not None:
        poles = poles or 1
        share = 1.0 if poles == 1 else EQUAL_POLES
        return poles, share / (2 * pi * design.filter.cutoff)
    if rejection is None:
        share = ONE_POLE_SHARE if (poles or 1) == 1 else TWO_POLE_SHARE
        if design.drive.polarity == "attract" and design.drive.trigger == "previous_pass":
            # The pulse stands before the crossing that is timed: the filter must forget it first.
            share *= FORGETFUL
        return poles or 1, share * spacing
    aim = 1.15 * rejection
    w = 2 * pi * f_mains
    one, two = (turns_of(aim, number) / w for number in (1, 2))
    if poles is None:
        poles = 1 if one <= ONE_POLE_MOST * spacing else 2
    if poles == 1:
        return 1, one if one > ONE_POLE_MOST * spacing else max(one, 0.15 * spacing)
    return 2, two if two > TWO_POLE_MOST * spacing else max(two, 0.05 * spacing)


def _spares_the_pin(pickup: PickupResult) -> float:
    """Return the resistance that keeps a coupled kick within what the pin's clamp stands."""
    if pickup.pin is None or pickup.pin.shunted or not pickup.v_kick:
        return 0.0
    if pickup.pin.i_injection_max <= 0:
        return 0.0
    beyond = max(
        pickup.v_bias_spent + pickup.v_kick - pickup.pin.v_high,
        pickup.pin.v_low - pickup.v_bias_spent + pickup.v_pulse,
    )
    return max(1.3 * beyond / pickup.pin.i_injection_max - pickup.r_source, 0.0) / 0.9


def choose(design: Design, pickup: PickupResult, spacing: float, f_mains: float) -> Chosen:
    """Return the filter: stated parts as they are, the others sized in preferred values."""
    keys = design.filter
    if keys.resistor is not None and keys.capacitor is not None:
        return solve(pickup, keys.poles or 1, keys.resistor, keys.capacitor)
    poles, tau = _wanted(design, spacing, f_mains)
    r_source = 0.0 if pickup.arrangement == "mid_rail" else pickup.r_source
    aim = keys.cutoff if keys.cutoff is not None else None
    if keys.capacitor is not None:
        c = keys.capacitor
        r = max(tau / c - (r_source if poles == 1 else 0.0), 10.0)
    elif keys.resistor is not None:
        r = keys.resistor
        c = tau / (max(r, 1.0) + (r_source if poles == 1 else 0.0))
    else:
        r = max(10e3, 2 * r_source, _spares_the_pin(pickup))
        c = nearest(tau / (r + (r_source if poles == 1 else 0.0)), "E6")
        r = max(tau / c - (r_source if poles == 1 else 0.0), 1e3)
    if aim is not None:
        for _ in range(4):
            off = solve(pickup, poles, r, c).f_c / aim
            r, c = (r, c * off) if keys.resistor is not None else (r * off, c)
    if keys.resistor is None:
        r = nearest(r)
    if keys.capacitor is None:
        c = nearest(c, "E6" if keys.resistor is None else "E12")
    return solve(pickup, poles, r, c)
