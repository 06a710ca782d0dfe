"""Model cards through the points of a data sheet, several at a time."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netlists.model_cards import (
    I_SATURATION,
    V_THERMAL,
    BipolarCard,
    MosfetCard,
    bipolar_card,
    mosfet_card,
    v_be_saturated,
)

REVERSE_GAIN = 4.0
"""Reverse gain of a small switch, at most; common practice, no source."""
_REVERSE_GAINS = np.geomspace(1e-3, REVERSE_GAIN, 400)
_SATURATED = 0.9
"""A point must lie this far inside saturation, or its own forced gain raises the card's gain."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Saturation:
    """One saturation point of a data sheet; `v_be` None where it does not say."""

    i_c: float
    i_b: float
    v_ce: float
    v_be: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class On:
    """One on-resistance point of a data sheet."""

    v_gs: float
    i_d: float
    r_ds_on: float


def _inner_drop(points: Sequence[Saturation], beta_f: float, beta_r: float) -> NDArray[np.float64]:
    forced = np.array([point.i_c / point.i_b for point in points])
    return V_THERMAL * np.log((1 + (forced + 1) / beta_r) / (1 - forced / beta_f))


def bipolar_through(points: Sequence[Saturation], *, h_fe: float) -> BipolarCard:
    """Return the card of a bipolar switch fitted to its saturation points.

    Parameters
    ----------
    points : sequence of Saturation
        At least one.
    h_fe : float
        Current gain of the unsaturated transistor [1].

    Returns
    -------
    card : BipolarCard
        Meets a single point; the least relative error, squared and summed, of several.
    """
    i_c = np.array([point.i_c for point in points])
    v_ce = np.array([point.v_ce for point in points])
    beta_f = max(h_fe, max(point.i_c / point.i_b for point in points) / _SATURATED)
    gains = _REVERSE_GAINS if len(points) > 1 else np.array([REVERSE_GAIN])
    best, beta_r, resistance = math.inf, REVERSE_GAIN, 0.0
    for gain in gains.tolist():
        left = 1 - _inner_drop(points, beta_f, gain) / v_ce
        share = i_c / v_ce
        ohms = max(float(left @ share) / float(share @ share), 0.0)
        error = float(np.sum((left - ohms * share) ** 2))
        if error < best:
            best, beta_r, resistance = error, gain, ohms
    if len(points) == 1 and resistance == 0.0:
        beta_r = _reverse_gain(points[0], beta_f)
    known = [point for point in points if point.v_be is not None]
    return _with_base(beta_f, beta_r, resistance, known or [_usual_base(points[0])])


def _reverse_gain(point: Saturation, beta_f: float) -> float:
    """Return the reverse gain with which the junctions alone give the point's drop."""
    forced = point.i_c / point.i_b
    reach = math.exp(point.v_ce / V_THERMAL) * (1 - forced / beta_f) - 1
    return (forced + 1) / reach if reach > 0 else float(_REVERSE_GAINS[-1])


def _usual_base(point: Saturation) -> Saturation:
    return Saturation(i_c=point.i_c, i_b=point.i_b, v_ce=point.v_ce, v_be=0.8)


def _with_base(
    beta_f: float, beta_r: float, resistance: float, points: Sequence[Saturation]
) -> BipolarCard:
    """Return the card whose base meets one point, or two by current and resistance."""
    last = points[-1]
    single = bipolar_card(
        beta_f=beta_f, beta_r=beta_r, resistance=resistance,
        i_c=last.i_c, i_b=last.i_b, v_be_sat=last.v_be or 0.8,
    )  # fmt: skip
    if len(points) == 1:
        return single
    first = points[0]
    inner = [
        v_be_saturated(i_c=point.i_c, i_b=point.i_b, beta_f=beta_f, beta_r=beta_r)
        for point in (first, last)
    ]
    rise = (last.v_be or 0.8) - (first.v_be or 0.8) - (inner[1] - inner[0])
    r_base = max(rise / (last.i_b - first.i_b), 0.0)
    misses = [
        (point.v_be or 0.8) - r_base * point.i_b - junction
        for point, junction in zip((first, last), inner, strict=True)
    ]
    return BipolarCard(
        beta_f=beta_f,
        beta_r=beta_r,
        r_collector=resistance,
        r_base=r_base,
        i_saturation=I_SATURATION * math.exp(-sum(misses) / 2 / V_THERMAL),
    )


def mosfet_through(points: Sequence[On], *, v_gs_th_min: float, v_gs_th_max: float) -> MosfetCard:
    """Return the card of a MOSFET fitted to its on-resistance points.

    Parameters
    ----------
    points : sequence of On
        At least one.
    v_gs_th_min, v_gs_th_max : float
        Between which the threshold lies [V].

    Returns
    -------
    card : MosfetCard
        Meets a single point; the least relative error, squared and summed, of several.
    """
    v_gs = np.array([point.v_gs for point in points])
    i_d = np.array([point.i_d for point in points])
    r_ds_on = np.array([point.r_ds_on for point in points])
    if len(points) == 1:
        v_gs_th = min((v_gs_th_min + v_gs_th_max) / 2, 0.6 * float(v_gs[0]))
        return mosfet_card(r_ds_on=float(r_ds_on[0]), v_gs=float(v_gs[0]), v_gs_th=v_gs_th)
    best, card = math.inf, None
    highest = min(v_gs_th_max, 0.95 * float(v_gs.min()))
    for v_gs_th in np.linspace(min(v_gs_th_min, highest), highest, 60).tolist():
        drop = np.zeros_like(v_gs)
        for _ in range(6):
            # The channel narrows along itself: half its drop counts against the gate.
            column = 1 / np.maximum(v_gs - v_gs_th - drop / 2, 0.02)
            share, r_drain = _two_shares(column / r_ds_on, 1 / r_ds_on)
            drop = np.minimum(i_d * column * share, v_gs - v_gs_th)
        error = float(np.sum((1 - (column * share + r_drain) / r_ds_on) ** 2))
        if share > 0 and error < best:
            best = error
            card = MosfetCard(v_threshold=v_gs_th, gain=1 / share, r_drain=r_drain)
    if card is None:
        last = points[-1]
        return mosfet_card(r_ds_on=last.r_ds_on, v_gs=last.v_gs, v_gs_th=highest)
    return card


def _two_shares(one: NDArray[np.float64], other: NDArray[np.float64]) -> tuple[float, float]:
    """Return a and b, neither negative, with a * one + b * other nearest to one."""
    a_a, a_b, b_b = float(one @ one), float(one @ other), float(other @ other)
    a, b = float(one.sum()), float(other.sum())
    whole = a_a * b_b - a_b**2
    first, second = (a * b_b - b * a_b) / whole, (b * a_a - a * a_b) / whole
    if second < 0:
        return a / a_a, 0.0
    if first < 0:
        return 0.0, b / b_b
    return first, second
