"""The frequency column of a complex result, whose imaginary part the simulator never sets."""

import numpy as np
import pytest

from netlists.raw_file import RawFileError, read_raw
from tests.sources import Kind, source

HEAD = (
    "Title: t\nPlotname: AC Analysis\nFlags: complex\nNo. Variables: 2\nNo. Points: 2\n"
    "Variables:\n\t0\tfrequency\tfrequency\n\t1\tv(n1)\tvoltage\nBinary:\n"
)


def content(junk: float, value: complex = 1 + 2j) -> bytes:
    frequency = np.array([complex(10, junk), complex(20, junk)])
    table = np.array([[frequency[0], value], [frequency[1], value]])
    return HEAD.encode() + table.astype(np.complex128).tobytes()


@source(Kind.IDENTITY, "a frequency is real")
@pytest.mark.parametrize("junk", [0.0, 1.1e55, np.nan, -np.inf])
def test_what_memory_held_is_no_frequency(junk: float) -> None:
    raw = read_raw(content(junk))
    assert raw.vector("frequency").tolist() == [10, 20]
    assert raw.vector("v(n1)").tolist() == [1 + 2j, 1 + 2j]


def test_a_voltage_that_is_not_finite_is_still_refused() -> None:
    with pytest.raises(RawFileError, match="not finite"):
        read_raw(content(0.0, complex(1, np.nan)))
