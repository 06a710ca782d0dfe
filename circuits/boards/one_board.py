"""One board: the design and its parts with this board's own values, and its whole sheet."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from calc.wire import resistance_at_temperature
from circuits.boards import board_parts
from circuits.boards.tolerances import BoardTolerance
from circuits.catalogue import Catalogue, Mosfet, Part
from circuits.design import Design
from circuits.ledger import Ledger
from circuits.pipeline import run
from circuits.stage_pass import StagePass
from circuits.stages.drive_pin import pin_of

FIRST_STAGE = {
    "supply.life": "rails", "cell.charge": "rails", "magnet.remanence": "linkage",
    "part.v_be": "drive", "part.v_ce_sat": "drive", "part.h_fe": "drive", "part.r_ds_on": "drive",
    "part.v_f": "drive", "part.v_z": "drive",
}  # fmt: skip
"""The first stage that looks at the part which a tolerance changes."""
TRIED_WIDTH = "drive.pulse_width"
"""Among a board's shares: not a share but a width [s], tried out on it."""
STAGES = ("rails", "linkage", "drive")


class BoardMaker:
    """Makes boards of one design, and runs the sheet's own stages on them.

    Parameters
    ----------
    built : Design
        The design as it is built.
    catalogue : Catalogue
        The parts.
    done : StagePass
        A run of the design.
    tolerances : tuple of BoardTolerance
        What differs.
    """

    def __init__(
        self, built: Design, catalogue: Catalogue, done: StagePass,
        tolerances: tuple[BoardTolerance, ...],
    ) -> None:  # fmt: skip
        self.built, self.catalogue, self.done = built, catalogue, done
        self.tolerances = {one.name: one for one in tolerances}
        self.centre: StagePass = run(*self.make({}))

    def excess(self, name: str, share: float) -> float:
        """Return what a share adds to the sheet's own value, as its tolerance says."""
        if not share or name not in self.tolerances:
            return 0.0
        return float(self.tolerances[name].excess(share))

    def run(self, shares: Mapping[str, float]) -> StagePass:
        """Return the run of one board.

        Parameters
        ----------
        shares : mapping
            The board's place in each tolerance; those left out are at the sheet's own value.

        Returns
        -------
        done : StagePass

        Raises
        ------
        DesignFileError
            Where a stage has no answer for this board.
        """
        stated = self.built.magnet.remanence is not None
        touched = [
            FIRST_STAGE[name]
            for name, share in shares.items()
            if share and name in FIRST_STAGE and not (stated and name == "magnet.remanence")
        ]
        centre = self.centre
        earlier = centre.up_to(min(touched, key=STAGES.index)) if touched else centre
        return run(*self.make(shares), earlier)

    def make(self, shares: Mapping[str, float]) -> tuple[Design, Catalogue]:
        """Return the design file and the parts of one board."""
        sections: dict[str, dict[str, Any]] = {}
        for name, share in shares.items():
            section, _, key = name.partition(".")
            if not share or name in FIRST_STAGE or key in ("winding", "temperature"):
                continue
            if name == TRIED_WIDTH:
                sections.setdefault(section, {})[key] = share
                continue
            if name == "magnet.gap":
                self._move_magnet(sections, self.excess(name, share))
                continue
            value = self._value_of(section, key) * (1 + self.excess(name, share))
            sections.setdefault(section, {})[key] = value
        if self.built.magnet.remanence is not None:
            off = self.excess("magnet.remanence", shares.get("magnet.remanence", 0.0))
            sections.setdefault("magnet", {})["remanence"] = self.built.magnet.remanence * (1 + off)
        self._warm(sections, shares)
        if "quality_factor" in sections.get("movement", {}):
            sections["movement"]["ring_down"] = None
        changed = {
            name: replace(getattr(self.built, name), **keys) for name, keys in sections.items()
        }
        parts = board_parts.BoardCatalogue(self.catalogue, self._parts(shares))
        return replace(self.built, **changed), parts

    def _value_of(self, section: str, key: str) -> float:
        if (section, key) == ("movement", "quality_factor"):
            return float(self.done.result("movement").q_typ)
        if (section, key) == ("controller", "pin_resistance"):
            rails = self.done.result("rails")
            return pin_of(self.built, self.catalogue, Ledger(), rails).resistance
        return float(getattr(getattr(self.built, section), key))

    def _move_magnet(self, sections: dict[str, dict[str, Any]], excess: float) -> None:
        # The magnet stands off both windings by the same: they are fixed to one base.
        for section in ("magnet", "pickup_coil"):
            record = getattr(self.built, section)
            if record is not None and record.gap is not None:
                sections.setdefault(section, {})["gap"] = record.gap + excess

    def _warm(self, sections: dict[str, dict[str, Any]], shares: Mapping[str, float]) -> None:
        here = self.built.design.temperature or 0.0
        there = here + self.excess("design.temperature", shares.get("design.temperature", 0.0))
        if there != here:
            sections.setdefault("design", {})["temperature"] = there
        for section in ("coil", "pickup_coil"):
            off = self.excess(f"{section}.winding", shares.get(f"{section}.winding", 0.0))
            if getattr(self.built, section) is None or (not off and there == here):
                continue
            r = self.done.result(section).r_coil * (1 + off)
            sections.setdefault(section, {})["measured_resistance"] = resistance_at_temperature(
                r=r, t_from=here, t_to=there
            )

    def _parts(self, shares: Mapping[str, float]) -> dict[str, Part]:
        """Return every part of which the catalogue knows least and most, as it is here."""

        def times(name: str) -> float:
            return 1.0 + self.excess(name, shares.get(name, 0.0))

        built, catalogue = self.built, self.catalogue
        parts: dict[str, Part] = {}
        if built.supply.cell:
            cell = catalogue.cell(built.supply.cell)
            parts["cell"] = board_parts.cell_of(
                cell, charge=times("cell.charge"), worn=shares.get("supply.life", 0.0),
                v_spent=self.done.result("rails").cutoff_per_cell or cell.cutoff_typ,
            )  # fmt: skip
        if built.magnet.remanence is None and built.magnet.grade:
            grade = catalogue.magnet(built.magnet.grade)
            middle = (grade.b_r_min + grade.b_r_max) / 2
            parts["magnet"] = board_parts.grade_of(grade, middle * times("magnet.remanence"))
        if built.clamp.diode:
            diode = catalogue.diode(built.clamp.diode)
            parts["diode"] = board_parts.diode_of(diode, times("part.v_f"))
        if built.clamp.zener:
            zener = catalogue.zener(built.clamp.zener)
            parts["zener"] = board_parts.zener_of(zener, times("part.v_z"))
        switch = catalogue.transistor(built.drive.transistor or "")
        if isinstance(switch, Mosfet):
            parts["nmos"] = board_parts.mosfet_of(switch, times("part.r_ds_on"))
        else:
            parts["npn"] = board_parts.transistor_of(
                switch, v_be_share=shares.get("part.v_be", 0.0), drop=times("part.v_ce_sat"),
                gain=times("part.h_fe"),
            )  # fmt: skip
        return parts
