"""The ready unit texts mean what the unit library makes of them."""

import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from circuits.common_units import READY
from circuits.unit_text import Scale, scale, scale_by_registry
from tests.sources import Kind, source

ROOT = Path(__file__).parents[2]
TEXTS = [(text, dimension) for dimension, units in READY.items() for text in units]


@source(Kind.REFERENCE_LIBRARY, "pint, with the project's own definitions")
@pytest.mark.parametrize(("text", "dimension"), TEXTS, ids=[text for text, _ in TEXTS])
def test_a_ready_text_means_what_the_library_says(text: str, dimension: str) -> None:
    factor, zero = READY[dimension][text]
    ready = Scale(dimension, Decimal(factor), Decimal(zero))
    assert ready == scale_by_registry(text)
    assert ready == scale(text)


def test_the_demo_is_read_without_the_unit_library() -> None:
    """Reading a file of common units must not wait for it."""
    code = (
        "import sys; from circuits.design_file import read_design;"
        "read_design('examples/foyer_sculpture.toml'); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0
