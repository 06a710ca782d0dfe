"""The binary result file that ngspice writes, read whole or refused."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MARK = b"Binary:\n"


class RawFileError(ValueError):
    """Raised when a result file is not whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFile:
    """The vectors of one analysis, by the simulator's lower-case names."""

    names: tuple[str, ...]
    columns: NDArray[np.complex128]

    def vector(self, name: str) -> NDArray[np.complex128]:
        """Return one vector; KeyError with the names there are if it is absent."""
        if name not in self.names:
            raise KeyError(f"no vector {name}; there are {', '.join(self.names)}")
        column: NDArray[np.complex128] = self.columns[self.names.index(name)]
        return column


def read_raw(content: bytes) -> RawFile:
    """Read one plot from a binary raw file.

    Parameters
    ----------
    content : bytes
        The whole file.

    Returns
    -------
    raw : RawFile
        Every vector, complete and finite.

    Raises
    ------
    RawFileError
        If the header is not understood, the length is not exact, or a sample is not finite.
    """
    head, mark, body = content.partition(MARK)
    if not mark:
        raise RawFileError("the result file has no binary part")
    fields: dict[str, str] = {}
    names: list[str] = []
    for line in head.decode("ascii", errors="replace").splitlines():
        if line.startswith("\t"):
            names.append(line.split("\t")[2].lower())
        elif ":" in line:
            key, _, value = line.partition(":")
            fields[key.strip().lower()] = value.strip()
    try:
        n_vectors, n_points = int(fields["no. variables"]), int(fields["no. points"])
    except (KeyError, ValueError) as error:
        raise RawFileError("the result file's header lacks its counts") from error
    if len(names) != n_vectors or n_points < 1:
        raise RawFileError(f"{len(names)} vectors named, {n_vectors} promised, {n_points} points")
    is_complex = "complex" in fields.get("flags", "")
    kind = np.dtype(np.complex128 if is_complex else np.float64)
    wanted = n_vectors * n_points * kind.itemsize
    if len(body) != wanted:
        raise RawFileError(f"the result file holds {len(body)} bytes of data, {wanted} promised")
    table = np.frombuffer(body, dtype=kind).reshape(n_points, n_vectors).T
    if is_complex:
        # ngspice leaves the imaginary part of the frequency as its memory happened to be.
        table = np.concatenate([table[:1].real.astype(kind), table[1:]])
    if not np.isfinite(table).all():
        raise RawFileError("the result file holds a sample that is not finite")
    return RawFile(names=tuple(names), columns=np.ascontiguousarray(table, np.complex128))
