"""The sheet's own stages run at chosen boards, and what lies between them.

The stages solve for the pulse, the crossing and the settled arc; a hundred thousand such
solutions are out of reach. So they are run with each tolerance alone at its ends (and between,
where it is wide), and with the ends of the strongest in pairs. Between these boards a figure's
logarithm, or the figure itself, follows the polynomial through the runs of each tolerance, plus a
product for each pair. Boards at random, run whole, say which of both is less far off, and by how
much.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.boards.tolerances import BoardTolerance, Levels

Array = NDArray[np.float64]

LIFE = "supply.life"
"""A board stands somewhere in its cells' life; how long they last does not depend on where."""
CHECK = "check "
"""Prefix of a check's margin among the columns."""


Box = tuple[tuple[int, float], ...]
"""Boards beyond a share of one tolerance, or of two at once, each by its place in the list."""


def in_boxes(boxes: tuple[Box, ...], shares: Array) -> NDArray[np.bool_]:
    """Return which boards lie in any of the boxes."""
    found = np.zeros(len(shares), dtype=bool)
    for box in boxes:
        inside = np.ones(len(shares), dtype=bool)
        for index, beyond in box:
            u = shares[:, index]
            inside &= u > beyond if beyond > 0 else u < beyond
        found |= inside
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Boards for which a stage has no answer: those beyond a share of one tolerance."""

    tolerance: str
    beyond: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One figure, or one check's margin, as it follows the tolerances.

    `sign` is the figure's sign where its logarithm is followed, 0 where it is followed itself.
    A check's margin is `side` times (value over limit less 1), and that ratio is followed.
    Boards in the boxes `absent` may not have the figure: one of their runs did not.
    """

    name: str
    sign: float
    side: float
    centre: float
    weights: Array
    error: float
    absent: tuple[Box, ...] = ()

    def figure(self, followed: Array) -> Array:
        """Return figure or margin from what is followed."""
        if not self.sign:
            return followed
        return self.sign * np.exp(followed) if not self.side else self.side * np.expm1(followed)


@dataclass(frozen=True, slots=True, kw_only=True)
class StageMap:
    """What the stages found; a column's weights belong to the nodes, then to the pairs.

    `lost` are figures that cannot be followed, with the reason; `judged` are the
    findings without a limit that failed on a run, with the boxes about those runs. `severity`
    says how a check stood where its limit was missed.
    """

    tolerances: tuple[BoardTolerance, ...]
    nodes: tuple[Levels, ...]
    pairs: tuple[tuple[int, int], ...]
    columns: Mapping[str, Column]
    refusals: tuple[Refusal, ...]
    lost: Mapping[str, str]
    judged: Mapping[str, tuple[Box, ...]]
    severity: Mapping[str, str]
    runs: int

    def features(self, shares: Array) -> Array:
        """Return what each weight counts, for boards in rows and tolerances in columns."""
        kinked = [one.kinked for one in self.tolerances]
        alone = [
            _lagrange(shares[:, k], nodes, kinked=kinked[k]) for k, nodes in enumerate(self.nodes)
        ]
        ends = {
            k: list(_lagrange(shares[:, k], corners(self.nodes[k]), kinked=kinked[k]).values())
            for pair in self.pairs
            for k in pair
        }
        size = sum(map(len, alone)) + sum(len(ends[a]) * len(ends[b]) for a, b in self.pairs)
        found = np.empty((size, len(shares)))
        row = 0
        for polynomial in (part for parts in alone for part in parts.values()):
            found[row] = polynomial
            row += 1
        for one, other in self.pairs:
            for first in ends[one]:
                for second in ends[other]:
                    np.multiply(first, second, out=found[row])
                    row += 1
        return found.T

    def owners(self) -> list[set[int]]:
        """Return the tolerances that each weight belongs to."""
        found = [{k} for k, nodes in enumerate(self.nodes) for _ in nodes]
        for one, other in self.pairs:
            count = len(corners(self.nodes[one])) * len(corners(self.nodes[other]))
            found += [{one, other}] * count
        return found

    def values(self, name: str, features: Array) -> Array:
        """Return one column for boards whose features are given."""
        column = self.columns[name]
        return column.figure(column.centre + features @ column.weights)

    def refused(self, shares: Array) -> list[tuple[Refusal, NDArray[np.bool_]]]:
        """Return the boards without an answer, by reason."""
        names = [one.name for one in self.tolerances]
        found = []
        for refusal in self.refusals:
            u = shares[:, names.index(refusal.tolerance)]
            mask = u > refusal.beyond if refusal.beyond > 0 else u < refusal.beyond
            found.append((refusal, mask))
        return found


def _lagrange(u: Array, nodes: Levels, *, kinked: bool) -> dict[float, Array]:
    """Return the polynomials that are 1 at one node, 0 at the others and where nothing is off.

    Where a tolerance is kinked each side has its own polynomials, which are 0 on the other.
    """
    found = {}
    for level in nodes:
        part = np.ones_like(u)
        for other in (0.0, *(node for node in nodes if node != level)):
            if not kinked or other * level >= 0:
                part = part * ((u - other) / (level - other))
        found[level] = np.where(u * level > 0, part, 0.0) if kinked else part
    return found


def through(share: float, known: Mapping[float, float], *, kinked: bool) -> float:
    """Return the polynomial through 0 and what is known at some shares, at another share."""
    found = _lagrange(np.array([share]), tuple(known), kinked=kinked)
    return float(sum(found[u][0] * value for u, value in known.items()))


def corners(nodes: Levels) -> Levels:
    """Return the two shares at which a tolerance is paired: both ends, or middle and end."""
    if not nodes:
        return ()
    ends = (min(nodes), max(nodes))
    if ends[0] < 0 < ends[1] or len(nodes) == 1:
        return ends if ends[0] != ends[1] else ends[:1]
    far = max(ends, key=abs)
    return min((n for n in nodes if n != far), key=lambda n: abs(n - far / 2)), far
