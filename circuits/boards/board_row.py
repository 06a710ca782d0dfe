"""One board run whole, as a row that is kept on disk and goes from process to process."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from circuits.boards.board_run import BoardRun, taken_from
from circuits.boards.one_board import BoardMaker
from circuits.boards.row_store import KeptRows
from circuits.errors import DesignFileError
from circuits.ledger import Finding, Severity

Place = tuple[tuple[str, float], ...]
"""A board's share of each tolerance that moves it, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardRow:
    """A board's place in the tolerances and its run, or the reason why it has no sheet."""

    place: Place
    run: BoardRun | None = None
    reason: str = ""


def place_of(shares: Mapping[str, float]) -> Place:
    """Return a board's place; where it has the sheet's own value is left out."""
    return tuple(sorted((name, share) for name, share in shares.items() if share))


def run_board(maker: BoardMaker, place: Place) -> BoardRow:
    """Return the row of a board."""
    try:
        return BoardRow(place=place, run=taken_from(maker.run(dict(place))))
    except DesignFileError as error:
        return BoardRow(place=place, reason=str(error))


def _check_as_table(check: Finding) -> list[Any]:
    return [check.severity.value, check.value, check.limit, check.margin, check.remedy]


def _check_from_table(name: str, table: list[Any]) -> Finding:
    severity, value, limit, margin, remedy = table
    return Finding(
        id=name, severity=Severity(severity), text="", value=float(value), limit=float(limit),
        margin=float(margin), remedy=str(remedy),
    )  # fmt: skip


class BoardStore(KeptRows[Place, BoardRow]):
    """The boards of a spread that were run whole, by their place."""

    work = "coilwright spread"

    @staticmethod
    def key(row: BoardRow) -> Place:
        """Return the board's place."""
        return row.place

    @staticmethod
    def as_table(row: BoardRow) -> dict[str, Any]:
        """Return a row as a line holds it."""
        if row.run is None:
            return {"place": dict(row.place), "reason": row.reason}
        run = row.run
        return {
            "place": dict(row.place),
            "numbers": run.numbers,
            "words": run.words,
            "severities": run.severities,
            "said": run.said,
            "checks": {name: _check_as_table(check) for name, check in run.checks.items()},
        }

    @staticmethod
    def from_table(table: dict[str, Any]) -> BoardRow:
        """Return the row of a line; KeyError, TypeError or ValueError if it holds none."""
        place = place_of({name: float(share) for name, share in table["place"].items()})
        if "reason" in table:
            return BoardRow(place=place, reason=str(table["reason"]))
        run = BoardRun(
            numbers={name: float(value) for name, value in table["numbers"].items()},
            words={name: str(word) for name, word in table["words"].items()},
            severities={name: str(word) for name, word in table["severities"].items()},
            said={name: str(text) for name, text in table["said"].items()},
            checks={n: _check_from_table(n, one) for n, one in table["checks"].items()},
        )
        return BoardRow(place=place, run=run)
