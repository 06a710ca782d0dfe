"""Which tolerances matter most for a figure: rank correlation over the boards."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SHOWN = 3
UNRELATED = 0.05
"""A correlation smaller than this is chance, or does not matter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """One tolerance and how a figure follows it: 1 rises with it, -1 falls, 0 does not."""

    tolerance: str
    correlation: float


def ranks_of(rows: Array) -> Array:
    """Return the ranks of each row's samples, with mean 0 and length 1; a constant row is 0."""
    order = np.argsort(rows, axis=-1, kind="stable")
    ranks = np.empty_like(rows)
    places = np.arange(rows.shape[-1], dtype=np.float64)
    np.put_along_axis(ranks, order, np.broadcast_to(places, rows.shape).copy(), axis=-1)
    ranks -= ranks.mean(axis=-1, keepdims=True)
    length = np.sqrt((ranks**2).sum(axis=-1, keepdims=True))
    constant = np.ptp(rows, axis=-1, keepdims=True) == 0
    return np.where(constant, 0.0, ranks / np.where(length > 0, length, 1.0))


def strongest(names: Sequence[str], ranks: Array, values: Array) -> tuple[Strength, ...]:
    """Return the tolerances that a figure follows most, the strongest first.

    Parameters
    ----------
    names : sequence of str
        The tolerances.
    ranks : numpy.ndarray
        Their ranks over the boards, one row each.
    values : numpy.ndarray
        The figure of the same boards.

    Returns
    -------
    strengths : tuple of Strength
        At most three; what is hardly related is left out.
    """
    found = ranks @ ranks_of(values[None])[0]
    order = np.argsort(-np.abs(found))[:SHOWN]
    return tuple(
        Strength(tolerance=names[k], correlation=float(found[k]))
        for k in order
        if abs(found[k]) >= UNRELATED
    )
