"""Least squares with what every fit of a measurement reports: values, spread, likeness."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from calc.calculator import require

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What a fit found; the covariance follows from what it leaves over."""

    values: Array
    covariance: Array
    residual: Array

    @property
    def sigmas(self) -> Array:
        """Standard deviation of each value."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))

    @property
    def cost(self) -> float:
        """Sum of the squares of the residuals."""
        return float(np.dot(self.residual, self.residual))

    @property
    def scatter(self) -> float:
        """Root mean square of the residuals, for as many samples as are free."""
        free = max(self.residual.size - self.values.size, 1)
        return float(np.sqrt(self.cost / free))

    def likeness(self, one: int, other: int) -> float:
        """Return the correlation of two values, zero where one of them is exact."""
        size = float(self.sigmas[one] * self.sigmas[other])
        return float(self.covariance[one, other]) / size if size > 0 else 0.0


def neighbours(residual: Array) -> float:
    """Return the correlation of each residual with the next."""
    if residual.size < 8:
        return 0.0
    centred = residual - residual.mean()
    power = float(np.dot(centred, centred))
    return float(np.dot(centred[1:], centred[:-1])) / power if power > 0 else 0.0


def _covariance(columns: Array, residual: Array) -> Array:
    """Return the covariance of the values from the residual's slope with each of them.

    Residuals that follow each other count as fewer samples.
    """
    size = np.linalg.norm(columns, axis=0)
    size[size == 0] = 1.0
    scaled = columns / size
    inverse = np.linalg.pinv(np.dot(scaled.T, scaled), rcond=1e-13)
    free = max(residual.size - columns.shape[1], 1)
    follow = min(max(neighbours(residual), 0.0), 0.98)
    variance = float(np.dot(residual, residual)) / free * (1 + follow) / (1 - follow)
    return np.asarray(inverse / np.outer(size, size) * variance, dtype=np.float64)


def least(
    residual: Callable[[Array], Array],
    start: Array,
    *,
    scale: Array | None = None,
    low: Array | None = None,
    high: Array | None = None,
    tolerance: float = 1e-14,
) -> Fitted:
    """Return the values that make the residuals least.

    Parameters
    ----------
    residual : callable
        Takes the values, gives the residuals; both in sizes near one.
    start : numpy.ndarray
        Where to begin.
    scale : numpy.ndarray, optional
        Typical size of each value; of the start if left out.
    low, high : numpy.ndarray, optional
        Bounds of the values.
    tolerance : float
        Relative change at which to stop.

    Returns
    -------
    fitted : Fitted

    Raises
    ------
    OutOfRangeError
        If the residuals are no numbers where it begins.
    """
    bounds = (
        np.full(start.size, -np.inf) if low is None else low,
        np.full(start.size, np.inf) if high is None else high,
    )
    begin = np.clip(start, *bounds)
    sound = np.isfinite(residual(begin)).all()
    require(sound, "fit: residuals must be finite; leave out cells without sense")
    found = least_squares(
        residual, begin, bounds=bounds,
        xtol=tolerance, ftol=tolerance, gtol=tolerance,
        x_scale=np.maximum(np.abs(start), 1e-9) if scale is None else scale, max_nfev=400,
    )  # fmt: skip
    values = np.asarray(found.x, dtype=np.float64)
    left = np.asarray(found.fun, dtype=np.float64)
    columns = np.asarray(found.jac, dtype=np.float64)
    return Fitted(values=values, covariance=_covariance(columns, left), residual=left)


def linear(columns: Array, samples: Array) -> Fitted:
    """Return the weights of columns that add up to the samples as nearly as can be."""
    size = np.linalg.norm(columns, axis=0)
    size[size == 0] = 1.0
    solved = np.asarray(np.linalg.lstsq(columns / size, samples, rcond=None)[0]) / size
    left = np.asarray(samples - np.dot(columns, solved), dtype=np.float64)
    return Fitted(values=solved, covariance=_covariance(columns, left), residual=left)
