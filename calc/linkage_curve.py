"""The flux linkage of one winding along the magnet's path, with its slope and curvature."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.calculator import require
from calc.units import (
    Count,
    Metre,
    MetreCurve,
    Ratio,
    Weber,
    WeberCurve,
    WeberPerMetre,
    WeberPerMetreCurve,
    WeberPerSquareMetre,
    WeberPerSquareMetreCurve,
)

LOBE_SHARE = 0.05
"""A lobe of the slope counts from this share of the peak."""

Array = NDArray[np.float64]


def _quintic(length: Array, flux: Array, slope: Array, curvature: Array) -> Array:
    """Coefficients, lowest first, of the quintic over each interval that meets both ends."""
    f0, f1 = flux[:-1], flux[1:]
    s0, s1 = slope[:-1] * length, slope[1:] * length
    c0, c1 = curvature[:-1] * length**2, curvature[1:] * length**2
    rise = f1 - f0
    return np.stack(
        [
            f0,
            s0,
            c0 / 2,
            10 * rise - 6 * s0 - 4 * s1 - 1.5 * c0 + 0.5 * c1,
            -15 * rise + 8 * s0 + 7 * s1 + 1.5 * c0 - c1,
            6 * rise - 3 * (s0 + s1) - 0.5 * c0 + 0.5 * c1,
        ]
    )


def _tail(distance: float, power: int, flux: float, slope: float, curvature: float) -> Array:
    """Three falling powers that continue flux, slope and curvature beyond a distance."""
    powers = -np.array([power, power + 2, power + 4], dtype=np.float64)
    system = np.array([np.ones(3), powers, powers * (powers - 1)])
    return np.linalg.solve(system, np.array([flux, slope * distance, curvature * distance**2]))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lobes:
    """What the slope's extremes tell."""

    peak: WeberPerMetre
    away: Metre
    paths: tuple[Metre, ...]
    heights: tuple[WeberPerMetre, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LinkageCurve:
    """Flux linkage against path: quintics between nodes, falling powers beyond them.

    `centre` is where the winding's own axis stands; `path_peak` is the distance from there to
    the greatest slope. `tail_power` is the power of the distance with which the linkage of a
    small far magnet falls: 3 with the magnet's axis along the coil's, 4 along the motion.
    Peak and lobes are sought within `lobe_reach` of the centre: a circle comes back to the coil.
    """

    path: MetreCurve
    node_flux: WeberCurve
    node_slope: WeberPerMetreCurve
    node_curvature: WeberPerSquareMetreCurve
    centre: Metre = 0.0
    tail_power: Count = 3
    lobe_reach: Metre = np.inf
    _coefficients: Array = field(init=False, repr=False)
    _tails: Array = field(init=False, repr=False)
    _by_order: dict[int, Array] = field(init=False, repr=False, default_factory=dict)
    _found: dict[str, "_Lobes"] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        path = self.path
        require(path.ndim == 1 and path.size > 2, "linkage curve: path must hold three points")
        require(np.diff(path) > 0, "linkage curve: path must rise from point to point")
        require(
            (path[0] < self.centre) & (self.centre < path[-1]),
            "linkage curve: centre must lie inside the path; move or widen the table",
        )
        put = object.__setattr__
        nodes = (self.node_flux, self.node_slope, self.node_curvature)
        put(self, "_coefficients", _quintic(np.diff(path), *nodes))
        left = _tail(
            float(self.centre - path[0]), self.tail_power,
            float(nodes[0][0]), -float(nodes[1][0]), float(nodes[2][0]),
        )  # fmt: skip
        right = _tail(
            float(path[-1] - self.centre), self.tail_power,
            float(nodes[0][-1]), float(nodes[1][-1]), float(nodes[2][-1]),
        )  # fmt: skip
        put(self, "_tails", np.stack([left, right], axis=1))

    @property
    def on_axis(self) -> Weber:
        """Flux linkage with the magnet on the winding's axis [Wb]."""
        return float(self.linkage(self.centre))

    @property
    def curvature_on_axis(self) -> WeberPerSquareMetre:
        """Curvature with the magnet on the winding's axis [Wb/m²]."""
        return float(self.curvature(self.centre))

    @property
    def slope_peak(self) -> WeberPerMetre:
        """Greatest magnitude of the slope [Wb/m]."""
        return self._lobes.peak

    @property
    def path_peak(self) -> Metre:
        """Distance of the greatest slope from the winding's axis, along the path [m]."""
        return self._lobes.away

    @property
    def lobes(self) -> Count:
        """Lobes of the slope above a twentieth of the greatest."""
        return len(self._lobes.heights)

    @property
    def lobe_heights(self) -> tuple[WeberPerMetre, ...]:
        """The slope's extreme in each lobe, in the order of the path [Wb/m]."""
        return self._lobes.heights

    @property
    def lobe_paths(self) -> tuple[Metre, ...]:
        """Where these extremes lie [m]."""
        return self._lobes.paths

    @property
    def _lobes(self) -> "_Lobes":
        # Looked for once, and only if somebody asks.
        if "lobes" not in self._found:
            self._found["lobes"] = self._find_lobes()
        return self._found["lobes"]

    def _find_lobes(self) -> "_Lobes":
        paths, heights = self._extremes()
        away = np.abs(paths - self.centre)
        inside = away <= self.lobe_reach
        paths, heights, away = paths[inside], heights[inside], away[inside]
        peak = float(np.abs(heights).max()) if heights.size else 0.0
        # Of equal lobes, which differ by rounding only, the nearest counts.
        tallest = np.abs(heights) >= (1 - 1e-9) * peak
        nearest = float(away[tallest].min()) if heights.size else 0.0
        lobes: list[tuple[float, float]] = []
        for where, height in zip(paths.tolist(), heights.tolist(), strict=True):
            if abs(height) < LOBE_SHARE * peak or not peak:
                continue
            if lobes and (lobes[-1][1] > 0) == (height > 0):
                if abs(height) > abs(lobes[-1][1]):
                    lobes[-1] = (where, height)
            else:
                lobes.append((where, height))
        return _Lobes(
            peak=peak,
            away=nearest,
            paths=tuple(where for where, _ in lobes),
            heights=tuple(height for _, height in lobes),
        )

    def _extremes(self) -> tuple[Array, Array]:
        """Places and heights of the slope's extremes, in the order of the path."""
        path = self.path
        shares = np.array([0.0, 0.25, 0.5, 0.75])
        samples = np.append((path[:-1, None] + np.diff(path)[:, None] * shares).ravel(), path[-1])
        bend = self.curvature(samples)
        # Rounding about a flat end must not count as an extreme.
        still = np.abs(bend) <= 1e-12 * np.abs(bend).max()
        signs = np.where(still, 0.0, np.sign(bend))
        crossing = np.flatnonzero(signs[:-1] * signs[1:] < 0)
        low, high = samples[crossing], samples[crossing + 1]
        at_low, at_high = bend[crossing], bend[crossing + 1]
        for _ in range(14):
            middle = (low * at_high - high * at_low) / (at_high - at_low)
            at_middle = self.curvature(middle)
            same = np.sign(at_middle) == np.sign(at_low)
            # Halving the value held at the kept end keeps false position from stalling.
            at_high = np.where(same, at_high * 0.5, at_middle)
            at_low = np.where(same, at_middle, at_low * 0.5)
            low, high = np.where(same, middle, low), np.where(same, high, middle)
            if not at_middle.size or np.abs(at_middle).max() <= 1e-13 * np.abs(bend).max():
                break
        through = np.flatnonzero((signs[1:-1] == 0) & (signs[:-2] * signs[2:] < 0)) + 1
        found = np.sort(
            np.concatenate([(low * at_high - high * at_low) / (at_high - at_low), samples[through]])
        )
        return found, self.slope(found)

    def linkage(self, path: ArrayLike) -> Array:
        """Return the flux linkage [Wb] at places along the path [m]."""
        return self._evaluate(path, 0)

    def slope(self, path: ArrayLike) -> Array:
        """Return the linkage's slope [Wb/m], which is also the force per ampere [N/A]."""
        return self._evaluate(path, 1)

    def curvature(self, path: ArrayLike) -> Array:
        """Return the slope's own slope [Wb/m²]."""
        return self._evaluate(path, 2)

    def _rows(self, order: int) -> Array:
        """Return start, inverse length and the derivative's coefficients of every interval."""
        if order not in self._by_order:
            length = np.diff(self.path)
            rows = self._coefficients
            for _ in range(order):
                rows = rows[1:] * np.arange(1, rows.shape[0])[:, None]
            known = np.vstack([self.path[:-1], 1 / length, rows / length**order])
            self._by_order[order] = np.ascontiguousarray(known.T)
        return self._by_order[order]

    def _evaluate(self, path: ArrayLike, order: int) -> Array:
        where = np.asarray(path, dtype=np.float64)
        table = self.path
        # The engines ask some thousand times for a dozen places: few calls, one gathering.
        index = table.searchsorted(where, side="right") - 1
        index = np.minimum(np.maximum(index, 0), table.size - 2)
        near = self._rows(order).take(index, axis=0)
        t = (where - near[..., 0]) * near[..., 1]
        total = near[..., -1]
        for column in range(near.shape[-1] - 2, 1, -1):
            total = total * t + near[..., column]
        if where.size and (where.min() < table[0] or where.max() > table[-1]):
            outside = (where < table[0]) | (where > table[-1])
            total = np.where(outside, self._beyond(where, order), total)
        return np.asarray(total, dtype=np.float64)

    def _beyond(self, where: Array, order: int) -> Array:
        right = where > self.centre
        reach = np.where(right, self.path[-1] - self.centre, self.centre - self.path[0])
        # Inside the table the value is not used; the bound keeps the powers finite there.
        share = reach / np.maximum(np.abs(where - self.centre), reach)
        result = np.zeros_like(share)
        for term, power in enumerate((self.tail_power, self.tail_power + 2, self.tail_power + 4)):
            factor = {0: 1.0, 1: -power, 2: power * (power + 1)}[order]
            weight = np.where(right, self._tails[term, 1], self._tails[term, 0])
            result += weight * factor * share ** (power + order)
        sign = np.where(right, 1.0, -1.0) if order == 1 else 1.0
        return np.asarray(sign * result / reach**order, dtype=np.float64)

    def scaled(self, factor: Ratio) -> "LinkageCurve":
        """Return the curve times a factor: other turns, remanence or sense."""
        if factor == 1:
            return self
        return LinkageCurve(
            path=self.path,
            node_flux=self.node_flux * factor,
            node_slope=self.node_slope * factor,
            node_curvature=self.node_curvature * factor,
            centre=self.centre,
            tail_power=self.tail_power,
            lobe_reach=self.lobe_reach,
        )

    def shifted(self, position: Metre) -> "LinkageCurve":
        """Return the curve of the same winding standing further along the path."""
        return LinkageCurve(
            path=self.path + position,
            node_flux=self.node_flux,
            node_slope=self.node_slope,
            node_curvature=self.node_curvature,
            centre=self.centre + position,
            tail_power=self.tail_power,
            lobe_reach=self.lobe_reach,
        )

    def plus(self, other: "LinkageCurve") -> "LinkageCurve":
        """Return the sum with another winding's curve, about this one's centre."""
        path = np.union1d(self.path, other.path)
        return LinkageCurve(
            path=path,
            node_flux=self.linkage(path) + other.linkage(path),
            node_slope=self.slope(path) + other.slope(path),
            node_curvature=self.curvature(path) + other.curvature(path),
            centre=self.centre,
            tail_power=min(self.tail_power, other.tail_power),
            lobe_reach=min(self.lobe_reach, other.lobe_reach),
        )
