"""Lines among a table's rows that are no rows, or rows that do not fit."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from circuits.captures.cell_kinds import kind_of
from circuits.captures.cell_values import Tally
from circuits.captures.column_roles import Plan
from circuits.captures.heading_units import split_heading
from circuits.captures.table_layout import (
    COMMENT,
    DECORATION,
    FIGURES,
    TableLayout,
    all_units,
    ragged,
)
from circuits.errors import DesignFileError
from circuits.plain_text import shown


@dataclass(slots=True)
class RowNotes:
    """Lines among the rows that are none."""

    blank: Tally = field(default_factory=Tally)
    remarks: Tally = field(default_factory=Tally)
    headings: Tally = field(default_factory=Tally)


class OddLines:
    """Judges lines that are not plainly rows: blank, remark, heading again, row to be mended."""

    def __init__(self, file: str, layout: TableLayout, plan: Plan, head: Sequence[str]):
        self.file = file
        self.layout = layout
        self.plan = plan
        self.notes = RowNotes()
        above = head[: layout.first_line - 1]
        self._above = {line.strip() for line in above if line.strip()}
        self._starts = {layout.cells(line)[0].strip() for line in self._above}
        self._heading = self._units = ""
        if layout.names and layout.heading_line:
            self._heading = head[layout.heading_line - 1].strip()
        if layout.unit_line:
            self._units = head[layout.unit_line - 1].strip()

    def row(self, text: str, line: int) -> str | None:
        """Return a line's row mended, "heading", or None where it is no row; or refuse it."""
        layout = self.layout
        cells = layout.cells(text)
        places = [i for i, kind in enumerate(layout.kinds) if kind in FIGURES]
        kinds = [kind_of(cells[i], layout.decimal) for i in places if i < len(cells)]
        figures = sum(kind in FIGURES for kind in kinds)
        words = sum(kind in ("word", "level") for kind in kinds)
        stripped = text.strip().strip("\x1a")
        if not stripped or not any(cell.strip() for cell in cells):
            self.notes.blank.add(1, line, "")
            return None
        if figures and not words and not COMMENT.match(text):
            mended = self._trailing(text, cells)
            if mended is None:
                raise ragged(self.file, line, layout, len(cells))
            return mended
        if stripped == self._heading or self._is_heading(cells, line):
            self.notes.headings.add(1, line, shown(stripped))
            return "heading"
        if stripped == self._units:
            return "heading"
        if self._units and all_units(cells):
            raise DesignFileError(
                file=self.file, key=f"line {line}",
                found=f"the units {shown(stripped)} where {shown(self._units)} stood before",
                wanted="split the file there and read the parts one by one",
            )  # fmt: skip
        known = cells[0].strip() in self._starts or stripped in self._above
        if COMMENT.match(text) or DECORATION.fullmatch(text) or known or not figures:
            self.notes.remarks.add(1, line, shown(stripped))
            return None
        if len(cells) == layout.fields and words < len(kinds):
            return text
        raise ragged(self.file, line, layout, len(cells))

    def _trailing(self, text: str, cells: list[str]) -> str | None:
        """Return a row with as many separators as the others, if only a last one was at stake."""
        layout = self.layout
        if len(cells) == layout.fields:
            return text
        short = layout.fields - len(cells)
        if short == 1 and layout.kinds[-1] == "blank" and layout.separator != " ":
            return text + layout.separator
        if short == -1 and not cells[-1].strip() and layout.separator != " ":
            return text.rstrip().removesuffix(layout.separator)
        return None

    def _is_heading(self, cells: list[str], line: int) -> bool:
        """Return whether a line is the heading again; refuse one with other units."""
        uses = self.plan.uses
        if not self.layout.names or len(cells) < 2:
            return False
        same = 0
        for cell, use, name in zip(cells, uses, self.layout.names, strict=False):
            told, unit = split_heading(cell)
            before, _ = split_heading(name)
            same += told == before
            if told == before and unit.text and use.unit_text and unit.text != use.unit_text:
                if use.reason == "unit as told" or use.role == "left out":
                    continue
                raise DesignFileError(
                    file=self.file, key=f"line {line}",
                    found=f"{shown(cell)}: the unit of column {use.number} changes from "
                    f"{use.unit_text} to {unit.text}",
                    wanted="split the file there and read the parts one by one",
                )  # fmt: skip
        return 2 * same > len(self.layout.names)
