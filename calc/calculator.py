"""What every calculator shares: its decorator, its guard, its error and the door for arrays."""

from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import wraps
from inspect import unwrap
from typing import Any, ParamSpec, TypeVar, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

P = ParamSpec("P")
R = TypeVar("R")

Elementary = Callable[[float], float]

# NumPy's functions take arrays; the calculators that use them are typed for single numbers.
sqrt = cast(Elementary, np.sqrt)
exp = cast(Elementary, np.exp)
expm1 = cast(Elementary, np.expm1)
log = cast(Elementary, np.log)
log1p = cast(Elementary, np.log1p)
sin = cast(Elementary, np.sin)
cos = cast(Elementary, np.cos)
tan = cast(Elementary, np.tan)
arcsin = cast(Elementary, np.arcsin)
arccos = cast(Elementary, np.arccos)
arctan = cast(Elementary, np.arctan)
hypot = cast(Callable[[float, float], float], np.hypot)
minimum = cast(Callable[[float, float], float], np.minimum)
maximum = cast(Callable[[float, float], float], np.maximum)
pi = np.pi

ELEMENTARY: dict[str, object] = {
    "sqrt": np.sqrt,
    "exp": np.exp,
    "expm1": np.expm1,
    "log": np.log,
    "log1p": np.log1p,
    "sin": np.sin,
    "cos": np.cos,
    "tan": np.tan,
    "arcsin": np.arcsin,
    "arccos": np.arccos,
    "arctan": np.arctan,
    "hypot": np.hypot,
    "minimum": np.minimum,
    "maximum": np.maximum,
    "abs": np.abs,
    "pi": np.pi,
}
"""The names that a printed formula may use besides its own arguments."""


class OutOfRangeError(ValueError):
    """Raised where the physics of a calculator does not hold for its inputs.

    Attributes
    ----------
    mask : numpy.ndarray
        True for each offending sample; a single True when the inputs are single numbers.
    """

    def __init__(self, message: str, mask: ArrayLike = True) -> None:
        super().__init__(message)
        self.mask: NDArray[np.bool_] = np.asarray(mask, dtype=bool)


def require(condition: object, message: str) -> None:
    """Raise unless the condition holds everywhere; write it so that NaN fails it.

    Parameters
    ----------
    condition : bool or numpy.ndarray
        The positive condition, such as ``r > 0``.
    message : str
        ``<where>: <name> must <rule>; <consequence or repair>``.

    Raises
    ------
    OutOfRangeError
        Naming the rule, with the mask of the samples that break it.
    """
    if condition is True:
        return
    holds = np.asarray(condition, dtype=bool)
    if not holds.all():
        raise OutOfRangeError(message, ~holds)


def _plain(result: Any) -> Any:
    if isinstance(result, np.generic):
        return result.item()
    if isinstance(result, np.ndarray) and result.ndim == 0:
        return result.item()
    if is_dataclass(result) and not isinstance(result, type):
        changed = {
            field.name: getattr(result, field.name).item()
            for field in fields(result)
            if isinstance(getattr(result, field.name), np.generic)
        }
        return replace(result, **changed) if changed else result
    return result


def calculator(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a calculator made of elementary functions; its single results are plain floats."""

    @wraps(function)
    def call(*args: P.args, **kwargs: P.kwargs) -> R:
        return cast(R, _plain(function(*args, **kwargs)))

    vars(call).update(calculator=True, by_sample=False)
    return call


def routine(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a calculator that works by iteration or quadrature and takes one sample at a time."""
    call = calculator(function)
    vars(call).update(by_sample=True)
    return call


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """One column of samples for each field of a calculator's result."""

    names: tuple[str, ...]
    columns: NDArray[np.float64]

    def column(self, name: str) -> NDArray[np.float64]:
        """Return the samples of one field."""
        return cast(NDArray[np.float64], self.columns[self.names.index(name)])


def _broadcast(kwargs: dict[str, ArrayLike]) -> tuple[dict[str, Any], tuple[int, ...]]:
    shape = np.broadcast_shapes(*(np.shape(value) for value in kwargs.values()))
    arrays = {name: np.broadcast_to(np.asarray(value), shape) for name, value in kwargs.items()}
    return arrays, shape


def _one_by_one(function: Callable[..., Any], arrays: dict[str, Any], size: int) -> list[Any]:
    results: list[Any] = []
    mask = np.zeros(size, dtype=bool)
    message = ""
    for index in range(size):
        try:
            results.append(function(**{k: v.ravel()[index].item() for k, v in arrays.items()}))
        except OutOfRangeError as error:
            mask[index] = True
            message = str(error)
    if message:
        raise OutOfRangeError(message, mask)
    return results


def on_samples(function: Callable[..., float], **kwargs: ArrayLike) -> NDArray[np.float64]:
    """Return a calculator's single result for arrays of samples.

    Parameters
    ----------
    function : callable
        A function decorated as a calculator.
    **kwargs : array_like
        Its arguments; they broadcast against each other.

    Returns
    -------
    results : numpy.ndarray
        The results, in the broadcast shape.

    Raises
    ------
    OutOfRangeError
        With the mask of the offending samples.
    """
    arrays, shape = _broadcast(kwargs)
    if vars(function)["by_sample"]:
        flat = _one_by_one(function, arrays, int(np.prod(shape)))
        return np.array(flat, dtype=np.float64).reshape(shape)
    result = unwrap(function)(**arrays)
    return np.array(np.broadcast_to(result, shape), dtype=np.float64)


def fields_on_samples(function: Callable[..., Any], **kwargs: ArrayLike) -> Samples:
    """Return every field of a calculator's result for arrays of samples.

    Parameters
    ----------
    function : callable
        A function decorated as a calculator that returns a frozen result.
    **kwargs : array_like
        Its arguments; they broadcast against each other.

    Returns
    -------
    samples : Samples
        One column for each field, in the broadcast shape.

    Raises
    ------
    OutOfRangeError
        With the mask of the offending samples.
    """
    arrays, shape = _broadcast(kwargs)
    if vars(function)["by_sample"]:
        results = _one_by_one(function, arrays, int(np.prod(shape)))
        names = tuple(field.name for field in fields(results[0]))
        stacked = [np.reshape([getattr(r, name) for r in results], shape) for name in names]
    else:
        result = unwrap(function)(**arrays)
        names = tuple(field.name for field in fields(result))
        stacked = [np.broadcast_to(getattr(result, name), shape) for name in names]
    return Samples(names=names, columns=np.array(stacked, dtype=np.float64))
