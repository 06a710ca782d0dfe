"""The catalogue in print: a table of a kind, one part with its sources, and JSON."""

import json
import re
import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from circuits.format_quantity import YEAR, percent, show, show_alike, show_temperature, significant

WIDTH = 80
GUTTER = "  "

KIND_WORDS: Mapping[str, str] = {
    "npn": "NPN transistors for the switch",
    "nmos": "N-channel MOSFETs for the switch",
    "diode": "clamp (flyback) diodes",
    "zener": "zener diodes for the clamp",
    "magnet": "magnet grades",
    "wire": "enamelled copper wire",
    "cell": "cells by IEC designation",
    "pin": "microcontroller pins by class",
}

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "npn": ("package", "v_ceo", "i_c_max", "gain", "saturation"),
    "nmos": ("package", "v_dss", "i_d_max", "v_gs_th_max", "on"),
    "diode": ("kind", "v_rrm", "i_f_av", "forward"),
    "zener": ("v_z_min", "v_z_typ", "v_z_max", "i_z_test", "r_z_max", "p_tot"),
    "magnet": ("material", "b_r_min", "b_r_max", "t_max"),
    "wire": ("d_overall_grade1", "d_overall_grade2", "r_per_metre"),
    "cell": ("size", "v_nominal", "v_fresh", "q_cell", "r_internal", "shelf_life"),
    "pin": ("r_pin", "i_pin_max", "i_injection_max", "r_source_max"),
}
"""What the table of a kind shows; all figures of one part stand on its own page."""

HEADINGS: Mapping[str, str] = {
    "gain": "best gain",
    "saturation": "v_ce_sat_max",
    "on": "r_ds_on_max",
    "forward": "v_f",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A heading, columns and rows of plain text, and the lines that follow."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()


def shown_figure(value: float | None, unit: str) -> str:
    """Return one figure as a maker reads it; what is unknown as a dash.

    >>> shown_figure(0.15, "A"), shown_figure(-0.0012, "1/K"), shown_figure(None, "V")
    ('150 mA', '-0.12 %/K', '-')
    """
    if value is None:
        return "-"
    if unit == "K":
        return show_temperature(value)
    if unit == "1/K":
        return f"{percent(value)}/K"
    if unit == "1/s":
        return f"{percent(value * YEAR)}/year"
    if unit == "A/m":
        return f"{significant(value / 1e3)} kA/m"
    return show(value, unit)


def _figure(record: Any, name: str) -> str:
    unit = next(f.metadata["unit"] for f in fields(record) if f.name == name)
    return shown_figure(getattr(record, name), unit)


def _summary(name: str, points: Sequence[Any]) -> str:
    """Return the one test point that a table has room for, with its condition."""
    if not points:
        return "-"
    if name == "gain":
        best = max(points, key=lambda point: float(point.h_fe_min))
        return f"{significant(best.h_fe_min)} at {_figure(best, 'i_c')}"
    first = points[0]
    if name == "saturation":
        currents, unit = show_alike((first.i_c, first.i_b), "A")
        return f"{_figure(first, 'v_ce_sat_max')} at {'/'.join(currents)} {unit}"
    if name == "on":
        return f"{_figure(first, 'r_ds_on_max')} at {_figure(first, 'v_gs')}"
    last = points[-1]
    limit = "v_f_typ" if last.v_f_max is None else "v_f_max"
    return f"{_figure(last, limit)} at {_figure(last, 'i_f')}"


def _cell(part: Any, name: str) -> str:
    value = getattr(part, name)
    if isinstance(value, tuple):
        return _summary(name, value)
    if isinstance(value, str):
        return value or "-"
    return _figure(part, name)


def main_source(part: Any) -> str:
    """Return the document that most of a part's figures come from."""
    sources = Counter(mark.source for mark in part.marks.values())
    return sources.most_common(1)[0][0] if sources else ""


def _trust(part: Any) -> str:
    held = {mark.confidence for mark in part.marks.values()}
    if held == {"memory"}:
        return "memory"
    return "partly" if "memory" in held else "looked-up" if "looked-up" in held else "own"


def kinds_table(counts: Mapping[str, Sequence[str]]) -> Table:
    """Return the overview of the kinds."""
    rows = tuple(
        (kind, str(len(names)), KIND_WORDS[kind], ", ".join(names[:2]) + ", ...")
        for kind, names in counts.items()
    )
    return Table(
        title="The catalogue",
        headings=("kind", "parts", "what", "such as"),
        rows=rows,
        notes=(
            "coilwright parts KIND lists a kind, coilwright parts KIND NAME one part with the "
            "source of each figure.",
        ),
    )


def kind_table(kind: str, parts: Sequence[Any], unknown: Sequence[str]) -> Table:
    """Return the parts of a kind with their main figures, and the documents they come from."""
    columns = COLUMNS[kind]
    rows = tuple((p.name, *(_cell(p, name) for name in columns), _trust(p)) for p in parts)
    documents: dict[str, list[str]] = {}
    for part in parts:
        documents.setdefault(main_source(part), []).append(part.name)
    notes = [f"{_names(names)}: {source}" for source, names in documents.items()]
    if unknown:
        notes.append(f"Left out because a figure asked for is unknown: {', '.join(unknown)}")
    if not parts:
        notes.append("No part keeps to these limits.")
    headings = ("name", *(HEADINGS.get(name, name) for name in columns), "read")
    return Table(title=KIND_WORDS[kind], headings=headings, rows=rows, notes=tuple(notes))


def _names(names: Sequence[str]) -> str:
    return ", ".join(names) if len(names) <= 4 else f"{names[0]} to {names[-1]}"


def part_table(kind: str, part: Any) -> Table:
    """Return every figure of one part with its test condition, source and confidence."""
    rows: list[tuple[str, ...]] = []
    for field in fields(part):
        value = getattr(part, field.name)
        mark = part.marks.get(field.name)
        if mark is None:
            continue
        if "points" in field.metadata:
            for number, point in enumerate(value):
                rows.append((field.name if number == 0 else "", _point(point), ""))
            rows[-len(value)] = (field.name, _point(value[0]), str(mark))
        elif "unit" in field.metadata:
            rows.append((field.name, shown_figure(value, field.metadata["unit"]), str(mark)))
    words = [
        getattr(part, name) for name in ("package", "chemistry", "material") if hasattr(part, name)
    ]
    title = ", ".join([part.name, *(word for word in words if word), KIND_WORDS[kind]])
    notes = (f"Mind: {part.note}",) if part.note else ()
    return Table(
        title=title, headings=("figure", "value", "who says so"), rows=tuple(rows), notes=notes
    )


def _point(point: Any) -> str:
    known = [f for f in fields(point) if getattr(point, f.name) is not None]
    return ", ".join(
        f"{f.name} {shown_figure(getattr(point, f.name), f.metadata['unit'])}" for f in known
    )


def plain_table(table: Table) -> str:
    """Return a table as aligned text of at most 80 columns; cells too wide go on below."""
    headings = [re.split(r"(?<=[_ ])", text) for text in table.headings]
    # A number keeps its unit beside it.
    rows = [[re.split(r"(?<=[^0-9] )", text) for text in line] for line in table.rows]
    widths = _fitted([headings, *rows])
    lines = [table.title, ""]
    for cells in (headings, *rows):
        broken = [_broken(*pair) for pair in zip(cells, widths, strict=True)]
        for row in range(max(map(len, broken))):
            texts = (cell[row] if row < len(cell) else "" for cell in broken)
            aligned = (text.ljust(width) for text, width in zip(texts, widths, strict=True))
            lines.append(GUTTER.join(aligned).rstrip())
    if table.notes:
        lines.append("")
    for note in table.notes:
        lines += textwrap.wrap(note, WIDTH, subsequent_indent="  ", break_on_hyphens=False)
    return "\n".join(lines) + "\n"


def _fitted(rows: Sequence[Sequence[Sequence[str]]]) -> list[int]:
    """Return the columns' widths; where all do not fit, those that can give the most give way."""
    columns = list(zip(*rows, strict=True))
    widths = [max(len("".join(cell)) for cell in column) for column in columns]
    least = [max(len(piece.strip()) for cell in column for piece in cell) for column in columns]
    # A name stays whole: it is what other programs look for.
    least[0] = widths[0]
    while sum(widths) + len(GUTTER) * (len(widths) - 1) > WIDTH:
        room = [width - few for width, few in zip(widths, least, strict=True)]
        if max(room) <= 0:
            break
        widths[room.index(max(room))] -= 1
    return [
        max(len(text) for cell in column for text in _broken(cell, width))
        for column, width in zip(columns, widths, strict=True)
    ]  # fmt: skip


def _broken(pieces: Sequence[str], width: int) -> list[str]:
    """Return the pieces of a cell, as many on each line as its width takes."""
    lines = [""]
    for piece in pieces:
        if lines[-1] and len((lines[-1] + piece).rstrip()) > width:
            lines.append("")
        lines[-1] += piece
    return [line.rstrip() for line in lines]


def coloured_table(table: Table) -> str:
    """Return a table for a terminal, as wide as that is."""
    from rich import box  # noqa: PLC0415 - a pipe does not pay for it
    from rich.console import Console  # noqa: PLC0415
    from rich.table import Table as RichTable  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    console = Console(highlight=False)
    grid = RichTable(box=box.SIMPLE_HEAD, header_style="bold", padding=(0, 1))
    for heading in table.headings:
        grid.add_column(Text(heading), overflow="fold")
    for row in table.rows:
        grid.add_row(*(Text(text) for text in row))
    with console.capture() as capture:
        console.print(Text(table.title, style="bold"))
        console.print(grid)
        for note in table.notes:
            console.print(Text(note))
    return capture.get()


def parts_json(kind: str, parts: Sequence[Any], version: str) -> str:
    """Return parts as JSON, in SI units; what is unknown is absent."""
    return _json({"version": version, "kind": kind, "parts": [_entry(part) for part in parts]})


def kinds_json(counts: Mapping[str, Sequence[str]], version: str) -> str:
    """Return the names of every kind as JSON."""
    return _json({"version": version, "kinds": {kind: list(n) for kind, n in counts.items()}})


def _entry(part: Any) -> dict[str, Any]:
    entry: dict[str, Any] = {"name": part.name}
    for field in fields(part):
        value, mark = getattr(part, field.name), part.marks.get(field.name)
        if mark is None:
            if isinstance(value, str) and value:
                entry[field.name] = value
            continue
        about = {"source": mark.source, "confidence": mark.confidence}
        if mark.condition:
            about["condition"] = mark.condition
        if "points" in field.metadata:
            entry[field.name] = {"points": [_known(point) for point in value], **about}
        elif "unit" in field.metadata:
            entry[field.name] = {"value": value, "unit": field.metadata["unit"], **about}
    return entry


def _known(point: Any) -> dict[str, Any]:
    return {
        field.name: {"value": getattr(point, field.name), "unit": field.metadata["unit"]}
        for field in fields(point)
        if getattr(point, field.name) is not None
    }


def _json(content: dict[str, Any]) -> str:
    return json.dumps(content, indent=2, ensure_ascii=True, allow_nan=False) + "\n"
