"""What differs from board to board, by how much, and who says so."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuits.catalogue import Catalogue, Diode, Mosfet, Transistor
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Ledger
from circuits.stage_pass import StagePass
from circuits.stages.drive_pin import pin_of

RESISTOR, CAPACITOR, ELECTROLYTIC = 0.05, 0.1, 0.2
WINDING, REMANENCE, QUALITY, SUPPLY, REGULATOR, PIN = 0.03, 0.05, 0.1, 0.05, 0.03, 0.3
GAP, GAP_SHARE = 0.3e-3, 0.25
"""m, and the largest share of the gap that is assumed."""
WARMER = 10.0
"""K to either side of the design temperature."""
LEAST_OF_LIMIT = 0.5
"""What a voltage or resistance of which makers give the limit alone is at least, as a share."""
GAIN_OVER_LEAST = 3.0
"""The largest gain over the guaranteed one, where only that is known."""
FORWARD = 0.1
KINK = 0.1
"""Share of both sides together by which they must differ to be followed each by itself."""
LEAST_CHARGE, MOST_CHARGE = 0.5, 1.2
"""Single alkaline cells against the sheet, after public tests."""

STATED, ASSUMED, CATALOGUE = "stated", "assumed", "catalogue"
USUAL = "usual, no source"

Array = NDArray[np.float64]
Levels = tuple[float, ...]
BOTH: Levels = (-1.0, 1.0)
WIDE: Levels = (-1.0, -0.5, 0.5, 1.0)
LESS: Levels = (-1.0, -0.5)
MORE: Levels = (0.5, 1.0)
LIFE: Levels = (0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardTolerance:
    """One thing that differs from board to board.

    A board's place in it is a share: 0 is the sheet's own value, -1 the least and 1 the most that
    the tolerance allows. `below` and `above` are what these ends add to the sheet's value: a
    ratio of it where `unit` is "1", else in that unit. The stages are run at `levels`.
    """

    name: str
    words: str
    below: float
    above: float
    unit: str
    basis: str
    source: str
    levels: Levels = BOTH
    geometric: bool = False

    def excess(self, share: float | Array) -> Array:
        """Return what shares add to the sheet's own value.

        Where less and more differ by far, as with a quality factor that is not known, a board
        halves the value as easily as another doubles it: in between the ratio is geometric.
        """
        if self.geometric:
            ends = np.where(np.asarray(share) > 0, 1 + self.above, 1 + self.below)
            return np.asarray(ends ** np.abs(share) - 1)
        return np.asarray(
            np.where(
                np.asarray(share) > 0,
                share * np.float64(self.above),
                -share * np.float64(self.below),
            )
        )

    @property
    def kinked(self) -> bool:
        """Whether more and less differ by so much that figures bend at the sheet's value."""
        two_sided = self.below < 0 < self.above and not self.geometric
        return two_sided and abs(self.above + self.below) > KINK * (self.above - self.below)

    @property
    def least(self) -> float:
        """Return the least share that a board can have."""
        return min(0.0, *self.levels)

    @property
    def most(self) -> float:
        """Return the greatest share that a board can have."""
        return max(0.0, *self.levels)


_RESISTORS = (
    ("drive.base_resistor", "base resistor"),
    ("drive.pull_down", "pull-down at the switch"),
    ("clamp.resistor", "clamp resistor"),
    ("pickup.upper", "upper resistor of the divider"),
    ("pickup.lower", "lower resistor of the divider"),
    ("filter.resistor", "filter's resistor"),
    ("indicator.resistor", "indicator's resistor"),
)
_CAPACITORS = (
    ("filter.capacitor", "filter's capacitor", CAPACITOR),
    ("pickup.bypass", "bypass of the mid-rail", ELECTROLYTIC),
    ("pickup.coupling", "coupling capacitor", CAPACITOR),
    ("supply.reservoir", "reservoir", ELECTROLYTIC),
)


def tolerances_of(
    design: Design, built: Design, catalogue: Catalogue, done: StagePass
) -> tuple[BoardTolerance, ...]:
    """Return what differs between boards of a design; what is nil is left out.

    Parameters
    ----------
    design : Design
        The design file, with its tolerances.
    built : Design
        The same as it is built.
    catalogue : Catalogue
        The parts.
    done : StagePass
        A finished run of the design.

    Returns
    -------
    tolerances : tuple of BoardTolerance
        In the order of the beat.
    """
    found = [
        *_supply(design, catalogue, done),
        *_temperature(design, built),
        *_windings(design),
        *_magnet(design, catalogue),
        *_movement(design, done),
        *_parts(design, built),
        *_switch(catalogue, done),
        *_clamp(catalogue, done),
        *_pin(built, catalogue, done),
    ]
    moving = (one for one in found if one.below or one.above)
    return tuple(
        replace(one, levels=WIDE) if one.kinked and one.levels == BOTH else one for one in moving
    )


def _even(
    name: str, words: str, stated: float | None, usual: float, *, source: str = USUAL,
    unit: str = "1", levels: Levels = BOTH,
) -> BoardTolerance:  # fmt: skip
    """Return a tolerance that is the same to both sides, stated or assumed."""
    size = usual if stated is None else stated
    return BoardTolerance(
        name=name, words=words, below=-size, above=size, unit=unit,
        basis=ASSUMED if stated is None else STATED,
        source=source if stated is None else "design file", levels=levels,
    )  # fmt: skip


def _supply(
    design: Design, catalogue: Catalogue, done: StagePass
) -> Iterator[BoardTolerance]:  # fmt: skip
    supply = design.supply
    if supply.cell is None:
        stated = design.stated_tolerance.get("supply.voltage", design.tolerance.supply)
        yield _even("supply.voltage", "supply's voltage", stated, SUPPLY)
    else:
        cell = catalogue.cell(supply.cell)
        rails = done.result("rails")
        end = (rails.cutoff_per_cell or cell.cutoff_typ) / cell.v_fresh - 1
        yield BoardTolerance(
            name="supply.life", words="cells from fresh to spent", below=0.0, above=end, unit="1",
            basis=CATALOGUE, source=f"{cell.name}, evenly over its voltage", levels=LIFE,
        )  # fmt: skip
        low = cell.q_cell_low or LEAST_CHARGE * cell.q_cell
        high = cell.q_cell_high or MOST_CHARGE * cell.q_cell
        known = bool(cell.q_cell_low and cell.q_cell_high)
        yield BoardTolerance(
            name="cell.charge", words="charge of the cells", below=low / cell.q_cell - 1,
            above=high / cell.q_cell - 1, unit="1", basis=CATALOGUE if known else ASSUMED,
            source=cell.name if known else "public tests of alkaline cells",
        )  # fmt: skip
    if supply.regulator_output is not None:
        stated = design.stated_tolerance.get("supply.regulator_output")
        yield _even("supply.regulator_output", "regulator's output", stated, REGULATOR)


def _temperature(design: Design, built: Design) -> Iterator[BoardTolerance]:
    here, span = built.design.temperature or 0.0, design.tolerance.temperature
    if span is not None and span.from_ is not None and span.to is not None:
        low, high = min(span.from_, span.to, here), max(span.from_, span.to, here)
        basis, source = STATED, "design file"
    else:
        low, high = here - WARMER, here + WARMER
        basis, source = ASSUMED, f"{WARMER:g} K to either side, no source"
    yield BoardTolerance(
        name="design.temperature", words="temperature", below=low - here, above=high - here,
        unit="K", basis=basis, source=source,
        levels=tuple(level for level, end in ((-1.0, low - here), (1.0, high - here)) if end)
        or BOTH,
    )  # fmt: skip


def _windings(design: Design) -> Iterator[BoardTolerance]:
    for section, words in (
        ("coil", "coil's resistance"), ("pickup_coil", "pickup coil's resistance"),
    ):  # fmt: skip
        keys = getattr(design, section)
        if keys is None:
            continue
        told = design.stated_tolerance
        stated = told.get(f"{section}.measured_resistance", told.get(f"{section}.resistance"))
        if stated is None and (keys.measured_resistance is None or design.tolerance.winding == 0):
            # One winding that was measured stands for others less well than its meter.
            stated = design.tolerance.winding
        usual = 0.01 if keys.measured_resistance is not None else WINDING
        yield _even(f"{section}.winding", words, stated, usual)


def _magnet(design: Design, catalogue: Catalogue) -> Iterator[BoardTolerance]:
    magnet, share = design.magnet, design.stated_tolerance.get(
        "magnet.remanence", design.tolerance.remanence
    )  # fmt: skip
    if magnet.remanence is not None or magnet.grade is None:
        yield _even("magnet.remanence", "remanence", share, REMANENCE)
    else:
        grade = catalogue.magnet(magnet.grade)
        middle = (grade.b_r_min + grade.b_r_max) / 2
        own = grade.b_r_max / middle - 1
        wider = share is not None and share > own
        size = max(own, share or 0.0)
        yield BoardTolerance(
            name="magnet.remanence", words="remanence", below=-size, above=size, unit="1",
            basis=STATED if wider else CATALOGUE, source="design file" if wider else grade.name,
        )  # fmt: skip
    gap = magnet.gap or 0.0
    told = design.stated_tolerance.get("magnet.gap")
    stated = told * gap if told is not None else design.tolerance.gap
    yield _even("magnet.gap", "gap", stated, min(GAP, GAP_SHARE * gap), unit="m")


def _movement(design: Design, done: StagePass) -> Iterator[BoardTolerance]:
    movement = done.result("movement")
    name, words = "movement.quality_factor", "quality factor"
    if movement.q_known:
        stated = design.stated_tolerance.get(name, design.tolerance.quality_factor)
        levels = WIDE if (stated or 0.0) > 0.1 else BOTH
        yield _even(name, words, stated, QUALITY, levels=levels)
        return
    yield BoardTolerance(
        name=name, words=words, below=movement.q_low / movement.q_typ - 1,
        above=movement.q_high / movement.q_typ - 1, unit="1", basis=ASSUMED,
        source="range of such bearings, until measured", levels=WIDE, geometric=True,
    )  # fmt: skip


def _parts(design: Design, built: Design) -> Iterator[BoardTolerance]:
    def has(name: str) -> bool:
        section, _, key = name.partition(".")
        record = getattr(built, section)
        return record is not None and bool(getattr(record, key))

    told = design.stated_tolerance
    for name, words in _RESISTORS:
        if has(name):
            yield _even(name, words, told.get(name, design.tolerance.resistor), RESISTOR)
    for name, words, usual in _CAPACITORS:
        if has(name):
            yield _even(name, words, told.get(name, design.tolerance.capacitor), usual)


def _switch(catalogue: Catalogue, done: StagePass) -> Iterator[BoardTolerance]:
    name = str(done.ledger.values["drive.transistor"].value)
    part: Transistor | Mosfet = catalogue.transistor(name)
    limit = f"{name}: makers give the limit, half of it assumed as the least"
    if isinstance(part, Mosfet):
        yield BoardTolerance(
            name="part.r_ds_on", words="on-resistance", below=LEAST_OF_LIMIT - 1, above=0.0,
            unit="1", basis=ASSUMED, source=limit, levels=LESS,
        )  # fmt: skip
        return
    yield BoardTolerance(
        name="part.v_be", words="base-emitter voltage", below=-1.0, above=1.0, unit="span",
        basis=CATALOGUE, source=f"{name}, least to largest",
    )  # fmt: skip
    yield BoardTolerance(
        name="part.v_ce_sat", words="saturation voltage", below=LEAST_OF_LIMIT - 1, above=0.0,
        unit="1", basis=ASSUMED, source=limit, levels=LESS,
    )  # fmt: skip
    known = [p.h_fe_max / p.h_fe_min for p in part.gain if p.h_fe_max]
    yield BoardTolerance(
        name="part.h_fe", words="current gain", below=0.0,
        above=(max(known) if known else GAIN_OVER_LEAST) - 1, unit="1",
        basis=CATALOGUE if known else ASSUMED,
        source=name if known else f"{name}: only the least is known", levels=MORE,
    )  # fmt: skip


def _clamp(catalogue: Catalogue, done: StagePass) -> Iterator[BoardTolerance]:
    values = done.ledger.values
    if "clamp.diode" in values:
        part: Diode = catalogue.diode(str(values["clamp.diode"].value))
        known = [p.v_f_max / p.v_f_typ - 1 for p in part.forward if p.v_f_typ and p.v_f_max]
        yield BoardTolerance(
            name="part.v_f", words="clamp's forward voltage", below=-FORWARD,
            above=max(known, default=FORWARD), unit="1", basis=CATALOGUE if known else ASSUMED,
            source=f"{part.name}, typical to largest; below it usual, no source" if known
            else f"{part.name}: usual, no source",
        )  # fmt: skip
    if "clamp.zener" in values:
        zener = catalogue.zener(str(values["clamp.zener"].value))
        yield BoardTolerance(
            name="part.v_z", words="zener's voltage", below=zener.v_z_min / zener.v_z_typ - 1,
            above=zener.v_z_max / zener.v_z_typ - 1, unit="1", basis=CATALOGUE, source=zener.name,
        )  # fmt: skip


def _pin(built: Design, catalogue: Catalogue, done: StagePass) -> Iterator[BoardTolerance]:
    pin = pin_of(built, catalogue, Ledger(), done.result("rails"))
    if pin.resistance > 0:
        stated = built.controller.pin_resistance is not None
        yield BoardTolerance(
            name="controller.pin_resistance", words="pin's own resistance", below=-PIN, above=PIN,
            unit="1", basis=ASSUMED,
            source=f"{show(pin.resistance, 'ohm')} {'of the design file' if stated else 'typical'},"
            f" {percent(PIN)} to either side, no source",
        )  # fmt: skip
