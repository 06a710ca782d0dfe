"""What each column of a table is: time, channel, unit, or nothing that can be used."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuits.captures.banner_words import Banner
from circuits.captures.capture import ColumnUse
from circuits.captures.column_names import named_columns
from circuits.captures.column_sample import Sample
from circuits.captures.heading_units import known_unit, looks_counting
from circuits.captures.overrides import Overrides
from circuits.captures.table_layout import TableLayout
from circuits.captures.time_columns import TimePlan, plan_time
from circuits.errors import DesignFileError

LEVELS = "levels, no figures with a unit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All columns with what they are used for, and where the time comes from."""

    uses: tuple[ColumnUse, ...]
    time: TimePlan
    repeated: tuple[str, ...]
    counter: int | None


def plan_columns(
    file: str, layout: TableLayout, sample: Sample, banner: Banner, overrides: Overrides
) -> Plan:
    """Return what every column is used for, or refuse with what would decide it."""
    columns, repeated = named_columns(file, layout, overrides)
    uses = [_first_view(use, layout, sample) for use in columns]
    counter = _counter(uses, layout, sample, banner)
    if counter is not None:
        uses[counter] = replace(
            uses[counter], role="left out", unit_text="", reason="the number of the row"
        )
    time = plan_time(file, uses, layout, sample, banner, overrides)
    for part in time.parts:
        uses[part.column] = replace(
            uses[part.column], role="time", unit="s", factor=part.unit.factor, offset=0.0,
            unit_text=part.unit.text if part.kind in ("numeric", "epoch") else "", reason="",
        )  # fmt: skip
    for column, reason in time.left_out:
        uses[column] = replace(uses[column], role="left out", reason=reason)
    channels = [i for i, use in enumerate(uses) if use.role == "channel"]
    bare = [i for i in channels if not uses[i].unit_text and layout.kinds[i] == "number"]
    if len(channels) == 1 and bare and banner.value_unit:
        unit = banner.value_unit
        uses[bare[0]] = replace(
            uses[bare[0]], unit=unit.si, unit_text=unit.text, factor=unit.factor,
            offset=unit.offset, reason="unit from the lines above the table",
        )  # fmt: skip
    if not channels and not time.parts:
        raise DesignFileError(
            file=file, found="no column of figures that is asked for",
            wanted="name at least one in --columns",
        )  # fmt: skip
    return Plan(uses=tuple(uses), time=time, repeated=repeated, counter=counter)


def _first_view(use: ColumnUse, layout: TableLayout, sample: Sample) -> ColumnUse:
    """Return a column with the role that its cells alone suggest."""
    column = use.number - 1
    kind = layout.kinds[column]
    numbers = set(sample.numbers(column, layout.decimal)) if kind == "number" else set()
    if use.role == "left out":
        changed = use
    elif kind == "blank":
        changed = replace(use, role="left out", reason="nothing in it")
    elif kind == "word":
        texts = sample.texts(column)
        before = column > 0 and layout.kinds[column - 1] == "number"
        if before and texts and all(known_unit(text) for text in texts):
            changed = replace(use, role="unit", reason=f"unit of column {column}, row by row")
        else:
            changed = replace(use, role="left out", reason="letters, no figures")
    elif kind == "level" or (numbers and numbers <= {0.0, 1.0} and not use.unit_text):
        changed = replace(use, reason=LEVELS)
    elif kind == "quantity":
        changed = replace(use, unit_text="", reason="unit beside each figure")
    else:
        changed = use
    return changed


def _counter(
    uses: Sequence[ColumnUse], layout: TableLayout, sample: Sample, banner: Banner
) -> int | None:
    """Return the column that only counts rows, if there is one."""
    for column, use in enumerate(uses):
        if use.role != "channel" or layout.kinds[column] != "number" or use.unit_text:
            continue
        ruled = layout.step is not None and column == 0
        unnamed = not layout.names and column == 0 and layout.fields > 1 and banner.interval
        if not (ruled or looks_counting(use.heading) or (unnamed and not use.reason)):
            continue
        steps = np.diff(sample.numbers(column, layout.decimal))
        if steps.size and np.mean(steps == 1) > 0.8 and np.all((steps > 0) & (steps % 1 == 0)):
            return column
    return None
