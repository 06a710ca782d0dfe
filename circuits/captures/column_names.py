"""Names and units of the columns, from the heading or from the user."""

from circuits.captures.capture import ColumnUse
from circuits.captures.heading_units import NONE, HeadingUnit, known_unit, split_heading
from circuits.captures.overrides import Overrides
from circuits.captures.table_layout import TableLayout
from circuits.captures.word_lists import printable
from circuits.errors import DesignFileError
from circuits.plain_text import shown

LONGEST_NAME = 60


def named_columns(
    file: str, layout: TableLayout, overrides: Overrides
) -> tuple[list[ColumnUse], tuple[str, ...]]:
    """Return every column with name and unit, and the names that stood there more than once."""
    headings = _headings(file, layout, overrides)
    asked = _picked(file, headings, overrides)
    found: list[ColumnUse] = []
    used: dict[str, int] = {}
    repeated: list[str] = []
    for column, heading in enumerate(headings):
        name, unit = split_heading(heading)
        if column < len(layout.units) and not overrides.names:
            unit = known_unit(layout.units[column].strip().strip("[](){}<>")) or unit
        name = (name or f"column {column + 1}")[:LONGEST_NAME]
        role, reason = "channel", ""
        if overrides.picks:
            if column in asked:
                name = asked[column]
            else:
                role, reason = "left out", "not asked for"
        elif overrides.names and heading == "-":
            role, reason = "left out", "not asked for"
        elif name in used:
            repeated.append(name)
            used[name] += 1
            name = f"{name} {used[name]}"
        used.setdefault(name, 1)
        found.append(
            ColumnUse(
                number=column + 1, heading=heading, name=name,
                role="left out" if role == "left out" else "channel", reason=reason,
                unit_text=unit.text, unit=unit.si, factor=unit.factor, offset=unit.offset,
            )
        )  # fmt: skip
    return _with_units(found, layout, overrides), tuple(dict.fromkeys(repeated))


def _headings(file: str, layout: TableLayout, overrides: Overrides) -> list[str]:
    filled = layout.fields
    while filled > 1 and layout.kinds[filled - 1] == "blank":
        filled -= 1
    names = list(overrides.names or layout.names)
    if overrides.names and len(names) not in (filled, layout.fields):
        raise DesignFileError(
            file=file, key="--columns", found=f"{len(names)} names for {filled} columns",
            wanted="name every column in order, a lone - for one that is not wanted, "
            "or pick some by number as in coil=3",
        )  # fmt: skip
    names = [printable(name).replace("\t", " ") for name in names[: layout.fields]]
    return names + [""] * (layout.fields - len(names))


def _picked(file: str, headings: list[str], overrides: Overrides) -> dict[int, str]:
    asked: dict[int, str] = {}
    plain = [heading.strip() for heading in headings]
    names = [split_heading(heading)[0] for heading in headings]
    for name, place in overrides.picks.items():
        column = -1
        if place in plain:
            column = plain.index(place)
        elif place in names:
            column = names.index(place)
        elif place.isascii() and place.isdigit() and len(place) < 6:
            column = int(place) - 1
        if not 0 <= column < len(headings) or column in asked:
            raise DesignFileError(
                file=file, key="--columns", found=shown(f"{name}={place}"),
                wanted=f"name a column by number (1 to {len(headings)}) or by heading, each once",
            )  # fmt: skip
        asked[column] = printable(name)
    return asked


def _with_units(
    uses: list[ColumnUse], layout: TableLayout, overrides: Overrides
) -> list[ColumnUse]:
    stated: dict[int, HeadingUnit | None] = {}
    kept = [i for i, use in enumerate(uses) if use.role != "left out"]
    filled = [i for i in kept if layout.kinds[i] != "blank"]
    if overrides.units_in_order:
        places = next(
            (
                p
                for p in (filled, kept, range(len(uses)))
                if len(p) == len(overrides.units_in_order)
            ),
            None,
        )
        if places is None:
            raise DesignFileError(
                file="command line", key="--units",
                found=f"{len(overrides.units_in_order)} units for {len(filled)} columns",
                wanted='give one unit for each column in order, or by name as in "coil=mV"',
            )  # fmt: skip
        stated = dict(zip(places, overrides.units_in_order, strict=True))
    for name, unit in overrides.units.items():
        places = [i for i in kept if name in (uses[i].name, uses[i].heading.strip())]
        if not places:
            known = ", ".join(uses[i].name for i in filled[:12])
            raise DesignFileError(
                file="command line", key="--units", found=shown(name),
                wanted=f"name one of the columns: {known}",
            )  # fmt: skip
        stated |= dict.fromkeys(places, unit)
    for place, told in stated.items():
        meant = told or NONE
        use = uses[place]
        uses[place] = ColumnUse(
            number=use.number, heading=use.heading, name=use.name, role=use.role,
            unit_text=meant.text, unit=meant.si, factor=meant.factor, offset=meant.offset,
            reason="unit as told",
        )  # fmt: skip
    return uses
