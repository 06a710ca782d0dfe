"""Two coils joined, and the bands that tolerance and temperature make."""

from dataclasses import replace
from types import MappingProxyType
from typing import Any

import pytest

from calc.wire import resistance_at_temperature
from circuits.design import (
    General,
    Movement,
    TemperatureSpan,
    Tolerance,
)
from circuits.errors import DesignFileError
from circuits.stages.coil import CoilResult
from tests.circuits.windings import BOBBIN, MAGNET, sized, value
from tests.sources import Kind, source

# Two coils


def two(connection: str, sides: str, **rest: Any) -> CoilResult:
    keys = {"wire": 0.2e-3, "turns": 800, "count": 2, **BOBBIN}
    return sized({**keys, "connection": connection, "sides": sides}, **rest)[0]


@source(Kind.IDENTITY, "series has twice the resistance and four times the parallel's")
@pytest.mark.parametrize("sides", ["one", "both"])
def test_series_and_parallel_are_the_same_copper(sides: str) -> None:
    single, _ = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN})
    series, parallel = two("series", sides), two("parallel", sides)
    assert series.r_coil == pytest.approx(2 * single.r_coil)
    assert parallel.r_coil == pytest.approx(single.r_coil / 2)
    assert series.l_coil == pytest.approx(4 * parallel.l_coil)
    assert series.linkage_factor == pytest.approx(2 * parallel.linkage_factor)
    assert 2 * single.l_coil < series.l_coil < 4 * single.l_coil


@source(Kind.IDENTITY, "end to end they are one winding of twice the height and turns")
def test_two_on_one_side_are_one_long_winding() -> None:
    together = two("series", "one")
    long_one, _ = sized({"wire": 0.2e-3, "turns": 1600, **BOBBIN, "height": 18e-3})
    assert together.l_coil == pytest.approx(long_one.l_coil, rel=1e-9)
    assert (together.n_turns, together.height) == (1600, 18e-3)
    assert together.linkage_factor == 1.0


def test_coupling_of_two_sides_falls_with_the_gap_and_turns_with_the_magnet() -> None:
    """Farther apart they couple less; a magnet lying along its path needs them opposed."""
    near, far = (
        two("series", "both", magnet=replace(MAGNET, gap=gap)).l_coil for gap in (1e-3, 20e-3)
    )
    single, _ = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN})
    assert near > far > 2 * single.l_coil
    lying = two("series", "both", magnet=replace(MAGNET, axis="motion")).l_coil
    assert lying < 2 * single.l_coil


def test_one_coil_has_no_connection() -> None:
    with pytest.raises(DesignFileError, match="count = 2"):
        sized({"wire": 0.2e-3, "connection": "parallel", **BOBBIN})


def test_what_joins_two_coils_is_assumed_aloud() -> None:
    _, ledger = sized({"wire": 0.2e-3, "turns": 800, "count": 2, **BOBBIN})
    assert ledger.assumed["coil.connection"].value == "series"
    assert ledger.assumed["coil.sides"].value == "both"
    keys = {"wire": 0.2e-3, "turns": 800, "count": 2, **BOBBIN}
    _, swinging = sized(keys, movement=Movement(period=1.7, plane="arc"))
    assert swinging.assumed["coil.sides"].value == "one"


@pytest.mark.parametrize(("connection", "share"), [("series", 0.5), ("parallel", 2.0)])
def test_a_meter_at_the_terminals_sees_both_windings(connection: str, share: float) -> None:
    """The turns follow from one winding's part of what the meter shows."""
    keys = {"wire": 0.2e-3, "count": 2, "connection": connection, **BOBBIN}
    result, ledger = sized({**keys, "measured_resistance": 20.69 / share})
    assert value(ledger, "n_turns") == 800
    assert result.r_coil == 20.69 / share
    stated, _ = sized({**keys, "resistance": 20.69})
    assert stated.r_coil == pytest.approx(20.69 / share)


# Tolerance and temperature


def test_without_tolerance_there_is_no_band() -> None:
    result, ledger = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN})
    entry = ledger.values["coil.r_coil"]
    assert entry.low is None
    assert entry.high is None
    assert result.r_coil_low == result.r_coil == result.r_coil_high


@source(Kind.IDENTITY, "copper's law and the stated shares, multiplied")
def test_band_spans_winding_tolerance_and_temperature() -> None:
    span = Tolerance(winding=0.04, temperature=TemperatureSpan(from_=278.15, to=308.15))
    result, ledger = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN}, tolerance=span)
    cold, warm = (
        resistance_at_temperature(r=result.r_coil, t_from=293.15, t_to=t) for t in (278.15, 308.15)
    )
    assert result.r_coil_low == pytest.approx(0.96 * cold)
    assert result.r_coil_high == pytest.approx(1.04 * warm)
    assert ledger.values["coil.r_coil"].high == result.r_coil_high


@source(Kind.IDENTITY, "resistance goes with the inverse square of the diameter")
def test_a_tolerance_on_the_wire_counts_twice() -> None:
    stated = MappingProxyType({"coil.wire": 0.02})
    result, _ = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN}, stated_tolerance=stated)
    assert result.r_coil_low == pytest.approx(result.r_coil / 1.02**2)
    assert result.r_coil_high == pytest.approx(result.r_coil / 0.98**2)


@source(Kind.FROM_MEMORY, "IEC 60028: 0.00393 per kelvin")
def test_resistance_holds_at_the_design_temperature() -> None:
    cool, _ = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN})
    warm, _ = sized({"wire": 0.2e-3, "turns": 800, **BOBBIN}, design=General(temperature=313.15))
    assert warm.r_coil == pytest.approx(cool.r_coil * (1 + 0.00393 * 20))
