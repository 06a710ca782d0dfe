"""Every model card of the catalogue in the simulator: its own data-sheet points, and warmth."""

from dataclasses import dataclass

import pytest

from circuits.catalogue import Catalogue
from circuits.part_cards import (
    breakdown_card,
    diode_card,
    forward_points,
    mosfet_card,
    transistor_card,
)
from circuits.part_records import Diode, Mosfet, Transistor, Zener
from circuits.stages.switch_figures import base_voltage
from netlists.deck import CELSIUS, GROUND, Deck, operating_sweep
from netlists.drive_deck import add_zener
from netlists.runner import run_deck
from tests.simulator import Simulator
from tests.sources import Kind, source

CATALOGUE = Catalogue()
TEMPERATURES = (0.0, 25.0, 60.0)


def parts(kind: str, record: type) -> list:
    found = CATALOGUE.parts(kind)
    assert found
    assert all(isinstance(part, record) for part in found)
    return list(found)


NPN: list[Transistor] = parts("npn", Transistor)
NMOS: list[Mosfet] = parts("nmos", Mosfet)
DIODES: list[Diode] = parts("diode", Diode)
ZENERS: list[Zener] = parts("zener", Zener)


@dataclass(frozen=True)
class Point:
    """One data-sheet point: where the deck shows it, and the figure on the sheet."""

    part: str
    figure: str
    node: str
    printed: float
    current: float


class Bench:
    """All test points of the catalogue in one deck."""

    def __init__(self) -> None:
        self.deck = Deck()
        self.points: list[Point] = []
        self.count = 0
        self.deck.source("1", "n1", GROUND, 0.0)

    def node(self) -> str:
        self.count += 1
        return f"n{100 + self.count}"

    def drive(self, node: str, current: float) -> None:
        self.deck.current(str(100 + self.count), node, GROUND, current)

    def bipolar(self, part: Transistor) -> None:
        for point in part.saturation:
            collector = self.node()
            self.drive(collector, point.i_c)
            base = self.node()
            self.drive(base, point.i_b)
            name = f"m{self.count}"
            # The base is met at the point next above the design's current: here, at each one.
            card = transistor_card(part, point.i_c)
            self.deck.model(name, card.kind, **card.parameters())
            self.deck.bipolar(str(self.count), collector, base, GROUND, name)
            self.points += [
                Point(part.name, "v_ce_sat", collector, point.v_ce_sat_max, point.i_c),
                Point(part.name, "v_be_sat", base, base_voltage(part, point.i_c, None).typ,
                      point.i_c),
            ]  # fmt: skip

    def mosfet(self, part: Mosfet) -> None:
        card = mosfet_card(part)
        for point in part.on:
            drain = self.node()
            self.drive(drain, point.i_d)
            gate = self.node()
            self.deck.source(str(100 + self.count), gate, GROUND, point.v_gs)
            name = f"m{self.count}"
            self.deck.model(name, card.kind, **card.parameters())
            self.deck.mosfet(str(self.count), drain, gate, GROUND, name)
            self.points.append(
                Point(part.name, "r_ds_on", drain, point.r_ds_on_max * point.i_d, point.i_d)
            )

    def diode(self, part: Diode) -> None:
        card = diode_card(part)
        for i_f, v_f in forward_points(part):
            anode = self.node()
            self.drive(anode, i_f)
            name = f"m{self.count}"
            self.deck.model(name, card.kind, **card.parameters())
            self.deck.diode(str(self.count), anode, GROUND, name)
            self.points.append(Point(part.name, "v_f", anode, v_f, i_f))

    def zener(self, part: Zener) -> None:
        card = breakdown_card(part)
        cathode = self.node()
        self.drive(cathode, part.i_z_test)
        add_zener(self.deck, str(200 + self.count), cathode, GROUND, card)
        self.points.append(Point(part.name, "v_z", cathode, part.v_z_typ, part.i_z_test))


@pytest.fixture(scope="module")
def bench(simulator: Simulator) -> dict[Point, dict[float, float]]:
    """Voltage of every point at each temperature."""
    found: dict[Point, dict[float, float]] = {}
    for temperature in TEMPERATURES:
        one = Bench()
        for transistor in NPN:
            one.bipolar(transistor)
        for mosfet in NMOS:
            one.mosfet(mosfet)
        for diode in DIODES:
            one.diode(diode)
        for zener in ZENERS:
            one.zener(zener)
        analysis = operating_sweep(
            source="v1", start=0.0, end=1.0, step=1.0,
            vectors=[f"v({point.node})" for point in one.points],
        )  # fmt: skip
        deck = one.deck.finished(analysis, temperature=temperature + CELSIUS)
        run = run_deck(deck, program=simulator.program, version=simulator.version,
                       vectors=analysis.vectors, end=analysis.end)  # fmt: skip
        for point in one.points:
            volts = float(run.real(f"v({point.node})")[0])
            found.setdefault(point, {})[temperature] = volts
    return found


TOLERANCE = {"v_ce_sat": 0.05, "v_be_sat": 0.02, "v_f": 0.05, "r_ds_on": 0.03, "v_z": 0.01}
"""Relative. The sheets' own curves are no exact logarithms with a resistance: two limits of
V_CE(sat) that stand for a rising resistance are met within 5 % each, three to five points of a
forward curve within 5 %."""
NO_SINGLE_CURVE = {"IRLZ44N": 0.10, "1N5817": 0.06}
"""Three on-resistances from memory that no square law with a resistance meets closer; three
limits of one diode between which the voltage rises less than any junction with the resistance
that the last two ask for."""


@source(Kind.PUBLISHED, "each part's own data sheet, as the catalogue names it")
def test_every_card_meets_its_own_points(bench: dict[Point, dict[float, float]]) -> None:
    assert {point.part for point in bench} == {
        part.name for part in (*NPN, *NMOS, *DIODES, *ZENERS)
    }
    for point, volts in bench.items():
        tolerance = NO_SINGLE_CURVE.get(point.part, TOLERANCE[point.figure])
        assert volts[25.0] == pytest.approx(point.printed, rel=tolerance), point


def rise(volts: dict[float, float]) -> tuple[float, float]:
    """Change per kelvin below and above 25 degrees."""
    return (volts[25.0] - volts[0.0]) / 25, (volts[60.0] - volts[25.0]) / 35


@source(Kind.FROM_MEMORY, "handbooks: silicon junctions fall by about 2 mV/K, less at high current")
def test_junctions_fall_as_they_warm(bench: dict[Point, dict[float, float]]) -> None:
    """Between -0.3 and -3.5 mV/K: a resistance in series, which keeps its value here, does not
    fall, and a Schottky barrier falls by about 1 mV/K."""
    falling = [point for point in bench if point.figure in ("v_be_sat", "v_f")]
    assert len(falling) > 40
    for point in falling:
        for slope in rise(bench[point]):
            assert -3.5e-3 < slope < -0.3e-3, point


@source(Kind.COMMON_PRACTICE, "on-resistance rises with temperature, by up to about 0.8 %/K")
def test_on_resistance_rises_as_it_warms(bench: dict[Point, dict[float, float]]) -> None:
    for point, volts in bench.items():
        if point.figure == "r_ds_on":
            for slope in rise(volts):
                assert 0 < slope / volts[25.0] < 8e-3, point


@source(Kind.COMMON_PRACTICE, "V_CE(sat) moves by well under 1 %/K; its logarithm goes as k T / q")
def test_saturation_voltage_hardly_moves(bench: dict[Point, dict[float, float]]) -> None:
    for point, volts in bench.items():
        if point.figure == "v_ce_sat":
            for slope in rise(volts):
                assert -1e-3 < slope / volts[25.0] < 6e-3, point


@source(Kind.COMMON_PRACTICE, "temperature coefficients of zeners lie within about 0.11 %/K")
def test_zeners_keep_their_voltage(bench: dict[Point, dict[float, float]]) -> None:
    for point, volts in bench.items():
        if point.figure == "v_z":
            for slope in rise(volts):
                assert abs(slope) / volts[25.0] < 1.1e-3, point
