"""Catalogue figures of a switch at the current of this design."""

from dataclasses import dataclass

from calc.bipolar import base_emitter_voltage
from calc.switch_law import SwitchLaw, saturation_drop
from circuits.part_records import Mosfet, OnPoint, Transistor

V_THERMAL = 0.0257
"""V at 25 degC."""
BETA_R = 4.0
"""Reverse gain of a small planar transistor (from memory); moves the drop by some millivolts."""
SHOWN_BY_TEST = 2.0
V_BE_MAX = 1.0
V_BE_MIN = 0.6
ALPHA_V_BE = -0.002
CATALOGUE_TEMPERATURE = 298.15


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseVoltage:
    """Base-emitter voltage of the saturated switch."""

    low: float
    typ: float
    high: float
    known: bool


def gain_at(transistor: Transistor, i_c: float) -> tuple[float | None, float]:
    """Return the guaranteed gain, or None beyond the last point, and a gain to compute with."""
    points = sorted(transistor.gain, key=lambda point: point.i_c)
    if not points:
        point = transistor.saturation[-1]
        return None, 2.5 * point.i_c / point.i_b
    last = points[-1]
    if i_c > last.i_c * 1.001:
        least = min(p.h_fe_min for p in points if p.i_c == last.i_c) * last.i_c / i_c
        # The saturation test itself shows that the gain lies well above its forced gain.
        if i_c <= specified_to(transistor):
            least = max(least, SHOWN_BY_TEST * forced_gain_of(transistor, i_c))
        return None, least
    above = min(p.i_c for p in points if p.i_c * 1.001 >= i_c)
    below = max((p.i_c for p in points if p.i_c < above and p.i_c <= i_c), default=above)
    least = min(p.h_fe_min for p in points if p.i_c in (above, below))
    return least, least


def forced_gain_of(transistor: Transistor, i_c: float) -> float:
    """Return the collector over base current at which saturation is specified."""
    points = sorted(transistor.saturation, key=lambda point: point.i_c)
    point = next((p for p in points if p.i_c >= i_c), points[-1])
    return point.i_c / point.i_b


def specified_to(transistor: Transistor) -> float:
    """Return the greatest collector current at which saturation is specified."""
    return max(point.i_c for point in transistor.saturation)


def base_voltage(transistor: Transistor, i_c: float, coldest: float | None) -> BaseVoltage:
    """Return the base-emitter voltage; the highest at the coldest temperature."""
    points = sorted(transistor.saturation, key=lambda point: point.i_c)
    point = next((p for p in points if p.i_c >= i_c), points[-1])
    high, typ = point.v_be_sat_max, point.v_be_sat_typ
    known = high is not None or typ is not None
    if high is None:
        high = V_BE_MAX if typ is None else typ + 0.1
    low = min(point.v_be_sat_min or V_BE_MIN, high)
    if typ is None:
        typ = (low + high) / 2
    if coldest is not None and coldest < CATALOGUE_TEMPERATURE:
        high = base_emitter_voltage(
            v_be=high, alpha_v_be=ALPHA_V_BE, temperature=coldest,
            temperature_ref=CATALOGUE_TEMPERATURE,
        )  # fmt: skip
    return BaseVoltage(low=low, typ=typ, high=high, known=known)


def bipolar_law(transistor: Transistor, i_c: float, i_b: float) -> SwitchLaw:
    """Return the drop through the catalogue's limits at its own forced gain."""
    _, beta_f = gain_at(transistor, i_c)
    points = sorted(transistor.saturation, key=lambda point: point.i_c)
    later = next((k for k, p in enumerate(points) if p.i_c >= i_c), len(points) - 1)
    first, second = points[max(later - 1, 0)], points[max(later, min(1, len(points) - 1))]

    def rest(point_i_c: float, point_i_b: float, v_limit: float) -> float:
        logarithm = saturation_drop(
            i_c=point_i_c, i_b=point_i_b, beta_f=max(beta_f, 2 * point_i_c / point_i_b),
            beta_r=BETA_R, v_thermal=V_THERMAL, r_series=0.0,
        )  # fmt: skip
        return max(v_limit - logarithm, 0.0)

    upper = rest(second.i_c, second.i_b, second.v_ce_sat_max)
    if first is second:
        constant, resistance = 0.0, upper / second.i_c
    else:
        lower = rest(first.i_c, first.i_b, first.v_ce_sat_max)
        resistance = max(upper - lower, 0.0) / (second.i_c - first.i_c)
        constant = max(lower - resistance * first.i_c, 0.0)
    return SwitchLaw(
        v_constant=constant, v_thermal=V_THERMAL, beta_f=beta_f, beta_r=BETA_R, i_b=i_b,
        resistance=resistance,
    )  # fmt: skip


def on_point(mosfet: Mosfet, v_gs: float) -> OnPoint | None:
    """Return the highest gate voltage, at most v_gs, at which on-resistance is guaranteed."""
    reached = [point for point in mosfet.on if point.v_gs <= v_gs * 1.0001]
    return max(reached, key=lambda point: point.v_gs) if reached else None
