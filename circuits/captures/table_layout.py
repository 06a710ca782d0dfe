"""How a text file's table is laid out: separator, decimal mark, heading, first row of figures."""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TypedDict

from circuits.captures.banner_words import tells_banner
from circuits.captures.cell_kinds import kind_of, number_in
from circuits.captures.heading_units import known_unit
from circuits.captures.overrides import Overrides
from circuits.errors import DesignFileError
from circuits.plain_text import shown

SEPARATORS = ("\t", ";", "|", ",", " ", "")
COMMENT = re.compile(r"\s*(?:[#;%!*>'/]+|rem\b|//)\s*", re.IGNORECASE)
DECORATION = re.compile(r"[\s=_*#+|;,-]*")
FIGURES = frozenset(("number", "date", "clock", "stamp", "quantity"))
JOINED = re.compile(r"[0-9]\s*[;|\t ]\s*[+-]?[0-9]|[0-9][.,][0-9]|[,;|]$|^[,;|]")
VOTERS = 24
HEADING_REACH = 6
NAMES = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma", " ": "space", "": "no"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLayout:
    """One reading of a file's lines; line numbers count from 1, columns from 0."""

    separator: str
    decimal: str
    fields: int
    kinds: tuple[str, ...]
    consistent: float
    figure_lines: int
    first_line: int
    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    heading_line: int | None = None
    unit_line: int | None = None
    heading_fields: int | None = None
    start: float | None = None
    step: float | None = None

    def cells(self, line: str) -> list[str]:
        """Return a line's cells."""
        return split_line(line, self.separator)


def split_line(line: str, separator: str) -> list[str]:
    """Return the cells of a line; a separator between quotes is none."""
    if not separator:
        return [line]
    if separator == " ":
        return line.split()
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=separator, skipinitialspace=True), [""])
        except csv.Error:
            return line.split(separator)
    return line.split(separator)


class _Heading(TypedDict, total=False):
    names: tuple[str, ...]
    units: tuple[str, ...]
    heading_line: int
    unit_line: int
    heading_fields: int
    start: float
    step: float


def find_layout(
    file: str, head: Sequence[str], later: Sequence[str], overrides: Overrides
) -> TableLayout:
    """Return the one layout that a file's lines fit, or refuse with what would decide it."""
    ends = (line for line in reversed(head) if line.strip() and not COMMENT.match(line))
    voters = list(islice(ends, VOTERS))[::-1]
    step = max(1, len(later) // VOTERS)
    voters += [line for line in later[::step] if line.strip()][:VOTERS]
    text = "\n".join(voters)
    marks = (overrides.decimal,) if overrides.decimal else (".", ",") if "," in text else (".",)
    fitting = []
    for separator in SEPARATORS:
        if separator and separator not in text:
            continue
        for decimal in marks:
            if separator != decimal or '"' in text:
                found = _fit(separator, decimal, head, voters)
                if found:
                    fitting.append(found)
    if not fitting and overrides.decimal == "," and _fit(",", ".", head, voters):
        raise DesignFileError(
                file=file, found="commas that part the columns and are told to mark decimals too",
                wanted="save the capture with decimal points, or with semicolons between columns",
            )  # fmt: skip
    if not fitting:
        raise DesignFileError(
            file=file, found="no table of figures",
            wanted="save the capture with one row of figures a line, columns parted by a comma, "
            "semicolon or tab, numbers without thousands marks",
        )  # fmt: skip
    return _best(file, fitting, head, overrides)


def _fit(
    separator: str, decimal: str, head: Sequence[str], voters: Sequence[str]
) -> TableLayout | None:
    """Return the layout by one separator and decimal mark, or None where cells do not fit it."""
    rows = [split_line(line, separator) for line in voters]
    kinds = [[kind_of(cell, decimal) for cell in row] for row in rows]
    # Banner lines may be among the voters: what the last ones look like counts.
    figures = [i for i, row in enumerate(kinds) if FIGURES & set(row)]
    if not figures:
        return None
    tally = Counter(len(rows[i]) for i in figures)
    fields = max(tally, key=lambda n: (tally[n], n))
    columns = []
    for column in range(fields):
        seen = Counter(kinds[i][column] for i in figures if len(rows[i]) == fields)
        told = {kind: n for kind, n in seen.items() if kind not in ("blank", "missing")}
        usual = max(told, key=lambda kind: told[kind]) if told else "blank"
        if usual == "word" and _hides_figures([rows[i][column] for i in figures
                                               if len(rows[i]) == fields]):  # fmt: skip
            return None
        if not told and seen["missing"]:
            usual = "number"
        columns.append(usual)
    if not FIGURES & set(columns):
        return None
    first = _first_row(head, separator, decimal, columns)
    if first is None:
        return None
    return TableLayout(
        separator=separator, decimal=decimal, fields=fields, kinds=tuple(columns),
        consistent=tally[fields] / len(figures), figure_lines=len(figures), first_line=first + 1,
        **_heading(head, first, separator, columns),
    )  # fmt: skip


def _hides_figures(cells: Sequence[str]) -> bool:
    joined = sum(bool(JOINED.search(cell.strip())) for cell in cells)
    return 2 * joined >= len(cells)


def _first_row(
    head: Sequence[str], separator: str, decimal: str, columns: Sequence[str]
) -> int | None:
    """Return the index of the first line that holds figures where the table does."""
    places = [i for i, kind in enumerate(columns) if kind in FIGURES]
    for index, line in enumerate(head):
        if not line.strip() or COMMENT.match(line):
            continue
        cells = split_line(line, separator)
        if len(cells) < 2 <= len(columns):
            continue
        kinds = [kind_of(cells[i], decimal) for i in places if i < len(cells)]
        good = sum(kind in FIGURES for kind in kinds)
        if good and good + sum(kind in ("blank", "missing") for kind in kinds) == len(kinds):
            return index
    return None


def _heading(head: Sequence[str], first: int, separator: str, columns: Sequence[str]) -> _Heading:
    """Return names, units and their lines from the few lines above the first row."""
    filled = len(columns)
    while filled > 1 and columns[filled - 1] == "blank":
        filled -= 1
    above: list[tuple[int, list[str], bool]] = []
    for index in range(first - 1, max(-1, first - 1 - HEADING_REACH), -1):
        line = head[index]
        if DECORATION.fullmatch(line):
            continue
        if tells_banner(line):
            break
        mark = COMMENT.match(line)
        bare = line[mark.end() :] if mark else line
        above.append((index, _names(bare, separator, filled, head[first]), bool(mark)))
        if len(above) == 2:
            break
    fits = [filled <= len(cells) <= len(columns) for _, cells, _ in above]
    if len(above) == 2 and (ruler := _ruler(above[1][1], above[0][1])):
        start, step = ruler
        return {
            "names": tuple(above[1][1][:filled]), "units": tuple(above[0][1][:filled]),
            "heading_line": above[1][0] + 1, "unit_line": above[0][0] + 1,
            "heading_fields": filled, "start": start, "step": step,
        }  # fmt: skip
    if above and fits[0]:
        index, cells, _ = above[0]
        if len(above) == 2 and fits[1] and all_units(cells) and not all_units(above[1][1]):
            return {
                "names": tuple(above[1][1]), "units": tuple(cells),
                "heading_line": above[1][0] + 1, "unit_line": index + 1,
                "heading_fields": filled,
            }  # fmt: skip
        return {"names": tuple(cells), "heading_line": index + 1, "heading_fields": filled}
    if above and not above[0][2]:
        return {"heading_line": above[0][0] + 1, "heading_fields": len(above[0][1])}
    return {}


def _ruler(names: Sequence[str], values: Sequence[str]) -> tuple[float, float] | None:
    """Return first time and interval in seconds, where the heading holds them instead of rows."""
    found = {}
    for name, value in zip(names, values, strict=False):
        if name.casefold() in ("start", "increment"):
            found[name.casefold()] = number_in(value, ".")
    start, step = found.get("start"), found.get("increment")
    if start is None or step is None or not 0 < step < 1e9 or not abs(start) < 1e9:
        return None
    return start, step


def _names(line: str, separator: str, filled: int, row: str) -> list[str]:
    if separator == " " and filled > 1:
        # Commas between names over columns parted by spaces; not where the rows have commas too.
        commas = () if "," in row else (r"\s*,\s*",)
        cells: list[str] = []
        for pattern in (r"\s*\t\s*|\s{2,}", *commas, r"\s+(?![\[(])"):
            cells = re.split(pattern, line.strip())
            if len(cells) == filled:
                break
        return cells
    if filled == 1 and re.search(r"[,;|\t]", line):
        # Several names over one column: it has been taken for one by mistake.
        return re.split(r"[,;|\t]", line)
    cells = [cell.strip() for cell in split_line(line, separator)]
    while len(cells) > filled and not cells[-1]:
        cells.pop()
    return cells


def all_units(cells: Sequence[str]) -> bool:
    """Return whether cells hold units and nothing else."""
    bare = [cell.strip().strip("[](){}<>").strip() for cell in cells]
    told = [cell for cell in bare if cell and cell not in ("-", "--", "1", "none")]
    return bool(told) and all(known_unit(cell) for cell in told)


def _best(
    file: str, fitting: list[TableLayout], head: Sequence[str], overrides: Overrides
) -> TableLayout:
    def rank(layout: TableLayout) -> tuple[bool, bool, bool, int]:
        named = bool(overrides.names) and len(overrides.names) == layout.fields
        figures = sum(kind in FIGURES for kind in layout.kinds)
        return (named, bool(layout.names), layout.consistent > 0.8, figures)

    most = max(layout.figure_lines for layout in fitting)
    fitting = [layout for layout in fitting if 2 * layout.figure_lines > most]
    fitting.sort(key=rank, reverse=True)
    best = fitting[0]
    line = head[best.first_line - 1]
    for other in fitting[1:]:
        rival = {best.separator, other.separator}
        commas = "," in rival and "," in (best.decimal, other.decimal) and len(rival) == 2
        if commas and rank(other)[:3] == rank(best)[:3]:
            raise DesignFileError(
                file=file, key=f"line {best.first_line}",
                found=f"{shown(line)}, where a comma may part two columns or be the decimal mark",
                wanted='say which with --decimal "," or --decimal "."',
            )  # fmt: skip
    wanted = best.heading_fields
    if wanted is not None and wanted > 1 and not best.names and not overrides.names:
        for number, row in enumerate(head[best.first_line - 1 :], best.first_line):
            found = len(best.cells(row))
            if row.strip() and found != wanted:
                raise ragged(file, number, best, found, wanted)
    return best


def ragged(
    file: str, line: int, layout: TableLayout, found: int, wanted: int | None = None
) -> DesignFileError:
    """Return the refusal of a row that has more or fewer cells than the table."""
    what = "the heading has" if layout.heading_fields or layout.names else "the rows have"
    hint = "mend that line, or save the capture again"
    if layout.separator == "," and found > (wanted or layout.fields):
        hint += "; if commas are decimal marks too, save it with points or with semicolons"
    return DesignFileError(
        file=file, key=f"line {line}",
        found=f"{found} {'cell' if found == 1 else 'cells'} where {what} "
        f"{wanted or layout.fields} (parted by {NAMES[layout.separator]}s)",
        wanted=hint,
    )  # fmt: skip
