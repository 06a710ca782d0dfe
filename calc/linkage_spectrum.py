"""The winding's potential as a spectrum of cylinder waves, and the nodes to sum it over."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy import special

from calc.calculator import require
from calc.linkage_parts import WindingShape
from calc.units import Metre

Array = NDArray[np.float64]

POINTS = 16
"""Gauss-Legendre points to a panel."""
TURN = 22.0
"""Phase in radians that a panel spans at the farthest place; its 16 points leave 1e-10."""
REST = 1e-8
"""Share of the spectrum's weight that may lie beyond the last node."""

MOST_TERMS = 1.2e7
"""Terms of one sum; more take seconds and belong to no winding that a gap like this serves."""

_NODES, _WEIGHTS = leggauss(POINTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """Wave numbers with quadrature weights, and the winding's amplitude at each.

    The magnetic potential per ampere above the winding's near face, at the distance rho from
    the axis and z from the face, is the sum of weight * exp(-k z) J0(k rho).
    """

    k: Array
    weight: Array


def panelled(low: float, high: float, panels: int) -> tuple[Array, Array]:
    """Return Gauss-Legendre nodes and weights over equal panels."""
    edges = np.linspace(low, high, panels + 1)
    half = (high - low) / panels / 2
    return (edges[:-1, None] + half * (1 + _NODES)).ravel(), np.tile(half * _WEIGHTS, panels)


def require_affordable(terms: float) -> None:
    """Refuse a sum that is out of all proportion.

    Raises
    ------
    OutOfRangeError
        If it has too many terms.
    """
    require(
        terms <= MOST_TERMS,
        "linkage: winding and path must be less than a few hundred times as large as the gap; "
        "check the winding's diameters, the path's radius and the gap for a slip of the unit",
    )


def thickness_moment(k: Array, winding: WindingShape) -> Array:
    """Return the integral of r J1(k r) over the winding's thickness, at rising wave numbers."""
    inner, outer = winding.r_inner, winding.r_outer
    panels = int(np.ceil(float(k[-1]) * (outer - inner) / TURN))
    require_affordable(k.size * panels * POINTS)
    r, weight = panelled(inner, outer, panels)
    return np.asarray(special.j1(k[:, None] * r) @ (weight * r), dtype=np.float64)


def winding_amplitude(k: Array, winding: WindingShape) -> Array:
    """Return the amplitude of the winding's potential per ampere at rising wave numbers."""
    moment = thickness_moment(k, winding)
    depth = -np.expm1(-k * winding.height) / k
    section = (winding.r_outer - winding.r_inner) * winding.height
    return winding.n_turns / (2 * section) * moment * depth


def _envelope(k: Array, winding: WindingShape, gap: float, reach: float) -> Array:
    """Return a smooth bound of the slope's integrand for a pole face of radius `reach`."""
    outer = winding.r_outer
    moment = np.minimum(k * outer**3 / 3, np.sqrt(outer / k**3))
    depth = np.minimum(winding.height, 1 / k)
    face = np.minimum(reach**2, np.sqrt(reach / k**3))
    return np.asarray(k * moment * depth * face * np.exp(-k * gap), dtype=np.float64)


def spectrum(winding: WindingShape, *, gap: Metre, pole: Metre, farthest: Metre) -> Spectrum:
    """Return nodes that serve places from the gap on and out to the farthest distance.

    Parameters
    ----------
    winding : WindingShape
        The winding.
    gap : float
        Least distance of a pole face from the winding's near face [m].
    pole : float
        Half the size of a pole face, which smooths what the winding makes [m].
    farthest : float
        Greatest distance that a wave must be followed over, along the path and off it [m].
    """
    scale = 1 / (winding.r_outer + gap)
    k = scale * np.geomspace(1e-3, 1e6, 400)
    part = _envelope(k, winding, gap, pole) * k
    rest = np.cumsum(part[::-1])[::-1] / part.sum()
    highest = float(k[np.argmax(rest < REST)])
    panels = int(np.ceil(highest * farthest / TURN))
    require_affordable(panels * POINTS)
    nodes, weights = panelled(0.0, highest, panels)
    return Spectrum(k=nodes, weight=weights * winding_amplitude(nodes, winding))


def graded(limit: float, features: Array, least: float, share: float, *, spread: int = 12) -> Array:
    """Return places from zero to a limit, close near features and wider far from them.

    Parameters
    ----------
    limit : float
        The last place.
    features : numpy.ndarray
        Where something sharp lies.
    least : float
        Distance over which the sharpest feature is smoothed.
    share : float
        Spacing as a share of the distance to the nearest feature.
    spread : int
        Further places, spread evenly.
    """
    fine = np.unique(
        np.concatenate(
            [
                np.clip(f + sign * least * np.sinh(np.linspace(0, np.arcsinh(limit / least), 40)),
                        0.0, limit)
                for f in np.append(features, 0.0) for sign in (-1.0, 1.0)
            ]
        )
    )  # fmt: skip
    away = np.abs(fine[:, None] - features).min(axis=1)
    # The second term keeps the far end, where nothing is near, from growing too wide.
    density = 1 / (share * np.hypot(least, away)) + spread / limit
    total = np.concatenate([[0.0], np.cumsum(np.diff(fine) * (density[1:] + density[:-1]) / 2)])
    count = int(np.ceil(total[-1]))
    places = np.interp(np.linspace(0, total[-1], count + 1), total, fine)
    places[-1] = limit
    return np.asarray(places, dtype=np.float64)
