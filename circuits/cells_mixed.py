"""One cell that differs from its neighbours: weak, the wrong way round, or of another kind."""

from dataclasses import dataclass, replace

import numpy as np

from calc.cell_curve import rest_curve_with_another
from circuits.catalogue import Catalogue, Cell
from circuits.cells_course import LifeCourse
from circuits.stages.cell_life import Course, course_of
from circuits.stages.cell_store import rest_voltage

HALF = 0.5
PAST = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Odd:
    """A set with one odd cell: when that is empty, when the set stops, its voltage before."""

    share: float
    empty_at: float
    life: float
    ended_by: str
    v_after: float

    @property
    def backwards(self) -> float:
        """How long the neighbours drive the empty cell backwards."""
        return max(self.life - self.empty_at, 0.0)


def with_odd_cell(course: LifeCourse, share: float, other: Cell | None = None) -> Odd:
    """Return the life of a set in which one cell holds `share` of the charge of the others."""
    series, store = course.use.series, course.life.typ.store
    own = store.v_rest / series
    v_other = own if other is None else rest_voltage(other, store.depth)[0]
    v_mean = rest_curve_with_another(
        depth=store.depth, v_rest=own, v_other=v_other, share=share, cells=series
    )
    odd: Course = course_of(replace(store, v_rest=series * v_mean), course.states, course.limits)
    empty_at = float(np.interp(min(share, 1.0), store.depth, odd.t))
    beyond = store.depth >= min(share, 1.0) + PAST
    after = float(series * v_mean[beyond][0]) if beyond.any() else 0.0
    return Odd(
        share=share, empty_at=min(empty_at, odd.life), life=odd.life,
        ended_by=odd.first.words, v_after=after,
    )  # fmt: skip


def reversed_voltage(course: LifeCourse) -> float:
    """Return the voltage of a fresh set in which one cell lies the wrong way round."""
    fresh = float(course.life.typ.store.v_rest[0])
    return fresh * (course.use.series - 2) / course.use.series


def stranger(course: LifeCourse, catalogue: Catalogue) -> Cell | None:
    """Return a cell of the same size and another kind that looks alike, if there is one."""
    fitted = course.cell
    alike = [
        c for c in catalogue.cells()
        if c.size and c.size == fitted.size and c.chemistry != fitted.chemistry
        and 0.7 < c.v_nominal / fitted.v_nominal < 1.4
    ]  # fmt: skip
    return min(alike, key=lambda c: c.q_cell, default=None)
