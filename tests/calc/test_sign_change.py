"""A sign that a table and its function place on different sides of a point."""

import pytest

from calc.sign_change import sign_change
from tests.sources import Kind, source


@source(Kind.IDENTITY, "the root of a straight line")
def test_a_root_between_two_places() -> None:
    assert sign_change(lambda x: 3 * x - 0.6, 0.0, 1.0, xtol=1e-14) == pytest.approx(0.2, abs=1e-13)


@pytest.mark.parametrize(("value", "place"), [(1e-14, 0.0), (-1 - 1e-14, 1.0)])
@source(Kind.IDENTITY, "the root lies at the place but for rounding")
def test_a_sign_within_rounding_is_the_end_itself(value: float, place: float) -> None:
    """Root finding refuses two ends of one sign."""
    assert sign_change(lambda x: x + value, 0.0, 1.0, xtol=1e-14) == place
