"""Round copper wire against gauge tables, makers' tables and the copper standard."""

import csv
from pathlib import Path

import pytest

from calc.calculator import OutOfRangeError
from calc.wire import (
    awg_diameter,
    awg_number,
    copper_resistance_per_metre,
    copper_wire_diameter,
    resistance_at_temperature,
    winding_temperature,
    wire_mass,
)
from tests.sources import Kind, source

DATA = Path(__file__).parents[1] / "data"


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open() as file:
        return list(csv.DictReader(file))


def half_a_digit(printed: str) -> float:
    """Half of the last printed digit."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


GAUGES = rows("american_wire_gauge.csv")
HANDBOOK = [row for row in GAUGES if row["handbook_diameter_mm"]]


@pytest.mark.parametrize("row", GAUGES, ids=lambda row: f"awg {row['awg']}")
@source(Kind.FROM_MEMORY, "ASTM B258 formula worked by hand, five figures; copper 1/58 ohm mm2/m")
def test_gauge_table(row: dict[str, str]) -> None:
    """Half the last printed digit of each column."""
    d_wire = awg_diameter(awg=int(row["awg"]))
    assert d_wire * 1e3 == pytest.approx(
        float(row["diameter_mm"]), abs=half_a_digit(row["diameter_mm"])
    )
    assert copper_resistance_per_metre(d_wire=d_wire, temperature=293.15) * 1e3 == pytest.approx(
        float(row["ohm_per_km"]), abs=half_a_digit(row["ohm_per_km"])
    )
    assert awg_number(d_wire=d_wire) == pytest.approx(int(row["awg"]), abs=1e-9)


@pytest.mark.parametrize("row", HANDBOOK, ids=lambda row: f"awg {row['awg']}")
@source(Kind.FROM_MEMORY, "handbook wire tables, three to four figures, from memory")
def test_handbook_gauge_table(row: dict[str, str]) -> None:
    """Half the last printed digit."""
    d_wire = awg_diameter(awg=int(row["awg"]))
    for value, name in (
        (d_wire * 1e3, "handbook_diameter_mm"),
        (
            copper_resistance_per_metre(d_wire=d_wire, temperature=293.15) * 1e3,
            "handbook_ohm_per_km",
        ),
    ):
        assert value == pytest.approx(float(row[name]), abs=half_a_digit(row[name])), name


@pytest.mark.parametrize(("awg", "inches"), [(36, 0.005), (-3, 0.46)])
@source(Kind.FROM_MEMORY, "ASTM B258: gauges 36 and 0000 are 0.005 in and 0.46 in by definition")
def test_the_two_defining_gauges(awg: int, inches: float) -> None:
    assert awg_diameter(awg=awg) == pytest.approx(inches * 25.4e-3, rel=1e-12)


@pytest.mark.parametrize("row", rows("wire_resistance.csv"), ids=lambda row: row["nominal_mm"])
@source(
    Kind.PUBLISHED,
    "wire maker's table (sh-wire.de) of IEC 60317 sizes",
    printed="0.100 mm: 2.034 2.176 2.333 ohm/m",
)
def test_makers_table_of_fine_wire(row: dict[str, str]) -> None:
    """Half the last printed digit (four figures); the table stands on 1/58.5, not on 1/58.

    With 1/58 we give 58.5/58 = 1.0086 of the printed nominal: still inside its own limits.
    """
    d_wire = float(row["nominal_mm"]) * 1e-3
    printed = row["r_nom_ohm_per_m"]
    theirs = copper_resistance_per_metre(d_wire=d_wire, temperature=293.15, rho=1 / 58.5e6)
    assert theirs == pytest.approx(float(printed), abs=half_a_digit("0.001"))
    ours = copper_resistance_per_metre(d_wire=d_wire, temperature=293.15)
    assert float(row["r_min_ohm_per_m"]) < ours < float(row["r_max_ohm_per_m"])


@source(Kind.FROM_MEMORY, "IEC 60028: alpha 0.00393 per kelvin", printed="100 ohm to 115.72 ohm")
def test_copper_at_sixty_degrees() -> None:
    """Half the last printed digit."""
    r = resistance_at_temperature(r=100.0, t_from=293.15, t_to=333.15)
    assert r == pytest.approx(115.72, abs=0.005)


@source(Kind.IDENTITY, "there and back again; the same law for wire and winding")
def test_temperature_laws_agree() -> None:
    warm = resistance_at_temperature(r=35.0, t_from=280.0, t_to=350.0)
    assert winding_temperature(r=warm, r_cold=35.0, t_cold=280.0) == pytest.approx(350.0)
    back = resistance_at_temperature(r=warm, t_from=350.0, t_to=280.0)
    assert back == pytest.approx(35.0, rel=1e-12)
    ratio = copper_resistance_per_metre(
        d_wire=1e-4, temperature=350.0
    ) / copper_resistance_per_metre(d_wire=1e-4, temperature=280.0)
    assert warm / 35.0 == pytest.approx(ratio, rel=1e-12)


@source(Kind.IDENTITY, "the diameter that gives the resistance gives the resistance")
@pytest.mark.parametrize("temperature", [253.15, 293.15, 353.15])
def test_diameter_and_resistance_are_inverse(temperature: float) -> None:
    per_metre = copper_resistance_per_metre(d_wire=0.16e-3, temperature=temperature)
    d_wire = copper_wire_diameter(r_per_metre=per_metre, temperature=temperature)
    assert d_wire == pytest.approx(0.16e-3, rel=1e-12)


@source(Kind.FROM_MEMORY, "IEC 60028: density 8890 kg/m3")
def test_bare_wire_weighs_what_its_copper_weighs() -> None:
    """One kilometre of 1 mm bare wire: pi/4 mm2 times 8.89 kg a litre."""
    mass = wire_mass(wire_length=1000.0, d_wire=1e-3, d_overall=1e-3)
    assert mass == pytest.approx(6.982, abs=0.0005)


@pytest.mark.parametrize(
    ("function", "bad"),
    [
        (awg_diameter, {"awg": 99}),
        (awg_number, {"d_wire": 0.0}),
        (copper_resistance_per_metre, {"d_wire": 1e-4, "temperature": 30.0}),
        (copper_wire_diameter, {"r_per_metre": -1.0, "temperature": 293.15}),
        (resistance_at_temperature, {"r": 1.0, "t_from": 293.0, "t_to": 0.0}),
        (wire_mass, {"wire_length": 1.0, "d_wire": 2e-4, "d_overall": 1e-4}),
    ],
)
def test_nonsense_is_refused(function: object, bad: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        function(**bad)  # type: ignore[operator]
