"""How a set of cells empties in a circuit, and which of its ends comes first."""

from dataclasses import dataclass
from math import isfinite, nan

import numpy as np
from numpy.typing import NDArray

from calc.calculator import on_samples
from calc.cell_course import discharge_times, first_below, loaded_cells
from calc.supply import reservoir_dip
from circuits.part_records import Cell
from circuits.stages.cell_states import Limits, SupplyState, widened
from circuits.stages.cell_store import Case, Store, Use, store_of

Array = NDArray[np.float64]

CUT_OFF, SHELF = "cut_off", "shelf"
WORDS = {
    CUT_OFF: "cells empty to the cut-off",
    "drop_out": "regulator drop-out",
    "brown_out": "brown-out at the pulse",
    "saturation": "pin level too low to saturate the switch",
    "threshold": "threshold no longer reached",
    "arc": "arc no longer held",
    SHELF: "shelf life",
}
STOPS = ("brown_out", "drop_out", "arc", "threshold")
"""Ends that, with fresh cells already, mean that it does not run at all."""
STEERED_ARC = "arc not held at the widest pulse"
LEFT = 0.1
"""Share of the life that is left when the cells are to be changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end: when it comes, at which voltage at rest; None where the cells are empty before.

    `from_start` where it holds with fresh cells already: then it is a fault of the circuit, which
    no cell cures, and does not count as the end of their life.
    """

    name: str
    words: str
    time: float | None
    v_rest: float | None
    from_start: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A set in its circuit over its life, from fresh to the first end; arrays go on to empty."""

    store: Store
    t: Array
    v_load: Array
    i_mean: Array
    dip: Array
    width: Array
    arc: Array
    rate: Array
    drains: dict[str, Array]
    ends: tuple[End, ...]

    @property
    def first(self) -> End:
        """The end that comes first."""
        coming = [end for end in self.ends if end.time is not None and not end.from_start]
        return min(coming, key=lambda end: end.time or 0.0)

    @property
    def never_runs(self) -> tuple[End, ...]:
        """The ends that keep it from running even with fresh cells."""
        return tuple(end for end in self.ends if end.from_start and end.name in STOPS)

    @property
    def life(self) -> float:
        """Time to the first end."""
        return self.first.time or 0.0

    @property
    def v_change(self) -> float:
        """Voltage at rest of the set when a tenth of its life is left."""
        return float(np.interp((1 - LEFT) * self.life, self.t, self.store.v_rest))

    @property
    def charge_given(self) -> float:
        """Charge down to the cut-off, whoever takes it."""
        end = next(end for end in self.ends if end.name == CUT_OFF)
        return self.store.charge * float(np.interp(end.time or 0.0, self.t, self.store.depth))

    def charges(self) -> dict[str, float]:
        """Return what each drain took up to the first end, and what the cells lost themselves."""
        used = self.t <= self.life
        t = np.append(self.t[used], self.life)

        def taken(course: Array) -> float:
            until = np.append(course[used], np.interp(self.life, self.t, course))
            return float(np.trapezoid(until, t))

        found = {name: taken(course) for name, course in self.drains.items()}
        if self.store.loss:
            found["self_discharge"] = taken(
                self.store.loss * self.store.charge * (1 - self.store.depth)
            )
        return found


def _over(states: tuple[SupplyState, ...], values: list[float], v: Array) -> Array:
    """Interpolate over the voltages at which a figure is known."""
    known = [(state.v, value) for state, value in zip(states, values, strict=True)
             if isfinite(value)]  # fmt: skip
    if not known:
        return np.full_like(v, nan)
    return np.interp(v, [k[0] for k in known], [k[1] for k in known])


def _dips(store: Store, limits: Limits, i_peak: Array, width: Array) -> Array:
    """Return the dip at the pulse along the discharge."""
    r = store.r_pulse + limits.r_extra
    if not limits.reservoir:
        return np.asarray(r * i_peak)
    return on_samples(
        reservoir_dip, i_pulse=i_peak, pulse_width=width, r_source=r,
        c_reservoir=limits.reservoir,
    )  # fmt: skip


def course_of(store: Store, states: tuple[SupplyState, ...], limits: Limits) -> Course:
    """Return how the set empties, and when each end comes."""
    v_known = np.array([state.v for state in states])
    i_known = np.array([state.i_mean for state in states])
    found = loaded_cells(
        v_rest=store.v_rest, r_sustained=store.r_sustained, v_known=v_known, i_known=i_known
    )
    v = found.v
    i_mean = np.maximum(found.i, 1e-15)
    t = discharge_times(
        depth=store.depth, i_mean=i_mean, charge=store.charge, self_discharge=store.loss or 0.0
    )
    width = _over(states, [state.width for state in states], v)
    i_peak = _over(states, [state.i_peak for state in states], v)
    dip = _dips(store, limits, i_peak, width)
    margins = _margins(states, limits, v, dip)
    arc = _over(states, [state.arc for state in states], v)
    rate = _over(states, [state.rate for state in states], v)
    known = [state.v for state in states if isfinite(state.arc)]
    if known and not isfinite(states[-1].arc):
        # Above that voltage it swings wider than was followed.
        arc, rate = np.where(v > max(known), nan, arc), np.where(v > max(known), nan, rate)
    if "arc" in margins:
        gone = np.cumsum(margins["arc"] < 0) > 0
        arc, rate = np.where(gone, nan, arc), np.where(gone, nan, rate)
    names = {name for state in states for name in state.drains}
    drains = {
        name: _over(states, [state.drains.get(name, 0.0) for state in states], v)
        for name in sorted(names)
    }
    return Course(
        store=store, t=t, v_load=v, i_mean=i_mean, dip=dip, width=width, arc=arc, rate=rate,
        drains=drains, ends=_ends(store, limits, t, margins),
    )  # fmt: skip


def _margins(
    states: tuple[SupplyState, ...], limits: Limits, v: Array, dip: Array
) -> dict[str, Array]:
    margins: dict[str, Array] = {CUT_OFF: v - limits.v_cutoff}
    if limits.v_output is not None:
        margins["drop_out"] = v - dip - limits.v_output - limits.v_dropout
    elif limits.brown_out is not None:
        margins["brown_out"] = v - dip - limits.brown_out
    if limits.v_output is not None and limits.brown_out is not None:
        behind = np.minimum(limits.v_output, v - dip - limits.v_dropout)
        margins["brown_out"] = behind - limits.brown_out
    for name in ("saturation", "threshold", "arc"):
        values = [state.margins.get(name, nan) for state in states]
        course = _over(states, values, v)
        if np.isfinite(course).all():
            margins[name] = course
    return margins


def _ends(store: Store, limits: Limits, t: Array, margins: dict[str, Array]) -> tuple[End, ...]:
    found: list[End] = []
    for name, margin in margins.items():
        words = STEERED_ARC if name == "arc" and limits.steered else WORDS[name]
        time = first_below(t, margin)
        if name == CUT_OFF and time is None:
            time = float(t[-1])
        found.append(
            End(
                name=name, words=words, time=time,
                v_rest=None if time is None else float(np.interp(time, t, store.v_rest)),
                from_start=bool(margin[0] < 0) and name != CUT_OFF,
            )
        )  # fmt: skip
    if store.shelf_life is not None:
        time = store.shelf_life
        at = float(np.interp(time, t, store.v_rest)) if time < t[-1] else None
        found.append(End(name=SHELF, words=WORDS[SHELF], time=time, v_rest=at))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """Poor, usual and good cells in one circuit."""

    low: Course
    typ: Course
    high: Course

    def course(self, case: Case) -> Course:
        """Return one of the three."""
        return {Case.LOW: self.low, Case.TYP: self.typ, Case.HIGH: self.high}[case]

    def times(self, name: str) -> tuple[float | None, float | None, float | None]:
        """Return when one end comes with poor, usual and good cells."""
        each = (self.low, self.typ, self.high)
        low, typ, high = (
            next((end.time for end in course.ends if end.name == name), None) for course in each
        )
        return low, typ, high


def life_of(
    stores: tuple[Store, Store, Store], states: tuple[SupplyState, ...], limits: Limits,
    spread: tuple[float, float] = (1.0, 1.0),
) -> Life:  # fmt: skip
    """Return the life of poor, usual and good cells.

    `spread` is by how much the pulses' current may exceed and fall below the usual, as the coil's
    resistance differs and changes with its temperature.
    """
    low, typ, high = stores
    return Life(
        low=course_of(low, widened(states, spread[0]), limits),
        typ=course_of(typ, states, limits),
        high=course_of(high, widened(states, spread[1]), limits),
    )


def stores_of(cell: Cell, use: Use) -> tuple[Store, Store, Store]:
    """Return poor, usual and good cells of one type."""
    return store_of(cell, use, Case.LOW), store_of(cell, use), store_of(cell, use, Case.HIGH)
