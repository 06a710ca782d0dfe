"""Which columns of a table tell the time of its rows, and in what unit."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from circuits.captures.banner_words import Banner
from circuits.captures.capture import ColumnUse
from circuits.captures.clock_text import needs_order, order_shown
from circuits.captures.column_sample import Sample, increasing, names_span, timely
from circuits.captures.heading_units import HeadingUnit, known_unit
from circuits.captures.overrides import Overrides
from circuits.captures.table_layout import TableLayout
from circuits.errors import DesignFileError
from circuits.plain_text import shown

SECOND = HeadingUnit("s", "s", 1.0)
UNITS = ("s", "ms", "us", "ns", "min", "h")
EPOCHS = ((1e17, 1e20, "ns"), (1e14, 1e17, "us"), (1e11, 1e14, "ms"), (5e8, 1e11, "s"))
"""Counts from 1970 tell their unit by their size: those of this century lie in these spans."""


SHORT_CLOCK = re.compile(r"[0-9]{1,3}:[0-5][0-9]")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimePart:
    """A column that is summed into the time of its rows."""

    column: int
    kind: Literal["numeric", "epoch", "date", "clock", "stamp"]
    unit: HeadingUnit = SECOND


@dataclass(frozen=True, slots=True, kw_only=True)
class TimePlan:
    """Where time comes from; `left_out` are further time columns, with the reason."""

    parts: tuple[TimePart, ...]
    words: str
    order: str = "dmy"
    interval: float | None = None
    begin: float = 0.0
    left_out: tuple[tuple[int, str], ...] = ()

    @property
    def absolute(self) -> bool:
        """Return whether the time is a date or time of day, counted from the first row here."""
        return any(part.kind != "numeric" for part in self.parts)


def plan_time(
    file: str, uses: Sequence[ColumnUse], layout: TableLayout, sample: Sample, banner: Banner,
    overrides: Overrides,
) -> TimePlan:  # fmt: skip
    """Return where the time of the rows comes from, or refuse with what would decide it."""
    open_columns = [i for i, use in enumerate(uses) if use.role == "channel"]
    _refuse_short_clocks(file, uses, layout, sample)
    if layout.step is not None and layout.start is not None and overrides.interval is None:
        words = f"rows {layout.step:.9g} s apart from {layout.start:.9g} s, by the heading"
        return TimePlan(parts=(), words=words, interval=layout.step, begin=layout.start)
    stamps = [i for i in open_columns if layout.kinds[i] in ("date", "clock", "stamp")]
    numeric = _numeric_columns(uses, layout, sample, open_columns)
    if stamps:
        plan = _by_stamps(file, uses, layout, sample, stamps, numeric, overrides)
    elif numeric:
        plan = _by_numbers(file, uses, layout, sample, numeric, banner)
    else:
        return _by_interval(banner, overrides)
    if overrides.interval is not None:
        raise DesignFileError(
            file="command line", key="--units", found="a sample interval for a file with times",
            wanted=f'leave it out, or leave the time column "{uses[plan.parts[0].column].name}" '
            "out with --columns",
        )  # fmt: skip
    return plan


def _refuse_short_clocks(
    file: str, uses: Sequence[ColumnUse], layout: TableLayout, sample: Sample
) -> None:
    """Refuse times of two figures, which may be hours and minutes or minutes and seconds."""
    for column, use in enumerate(uses):
        if layout.kinds[column] != "word" or not timely(use) or use.reason == "not asked for":
            continue
        texts = sample.texts(column)
        if texts and all(map(SHORT_CLOCK.fullmatch, texts)):
            raise DesignFileError(
                file=file, key=f'column "{use.name}"',
                found=f"times such as {shown(texts[0])}: hours and minutes, or minutes and seconds",
                wanted="log them with seconds, or leave the column out with --columns and say "
                '--units "interval=60 s"',
            )  # fmt: skip


def _by_interval(banner: Banner, overrides: Overrides) -> TimePlan:
    if overrides.interval is not None:
        words = f"rows {overrides.interval:.9g} s apart, as told"
        return TimePlan(parts=(), words=words, interval=overrides.interval)
    if banner.interval is not None:
        words = f"rows {banner.interval:.9g} s apart, by the line {shown(banner.words)}"
        return TimePlan(parts=(), words=words, interval=banner.interval)
    return TimePlan(parts=(), words="not told")


def _numeric_columns(
    uses: Sequence[ColumnUse], layout: TableLayout, sample: Sample, columns: Sequence[int]
) -> list[int]:
    """Return the columns of numbers that may be the time, the likeliest kind only."""
    numbers = [i for i in columns if layout.kinds[i] == "number"]
    for weakly in (False, True):
        found = [i for i in numbers if timely(uses[i], weakly=weakly)]
        if found:
            return found
    for i in numbers:
        grows = increasing(sample.numbers(i, layout.decimal))
        if grows and uses[i].unit == "s" and not names_span(uses[i].heading):
            return [i]
    unnamed = not any(uses[i].heading for i in numbers) and len(numbers) > 1
    if unnamed and increasing(sample.numbers(numbers[0], layout.decimal)):
        return numbers[:1]
    return []


def _by_stamps(
    file: str, uses: Sequence[ColumnUse], layout: TableLayout, sample: Sample,
    stamps: Sequence[int], numeric: Sequence[int], overrides: Overrides,
) -> TimePlan:  # fmt: skip
    kinds: dict[str, int] = {}
    for i in stamps:
        kinds.setdefault(layout.kinds[i], i)
    chosen = [kinds["stamp"]] if "stamp" in kinds else []
    if not chosen:
        chosen = [kinds[kind] for kind in ("date", "clock") if kind in kinds]
    parts = [TimePart(column=i, kind=_stamp_kind(layout.kinds[i])) for i in chosen]
    reasons = [(i, "a further date or time") for i in stamps if i not in chosen]
    words = " + ".join(f'"{uses[i].heading or uses[i].name}"' for i in chosen)
    texts = [sample.texts(i) for i in chosen]
    within = [i for i in numeric if _within_second(uses[i], sample, layout)]
    if within and not _has_fraction(texts[-1]):
        part = within[0]
        parts.append(TimePart(column=part, kind="numeric", unit=_unit(uses[part])))
        words += f' + "{uses[part].heading}" in {uses[part].unit_text} within the second'
    order = overrides.date_order or order_shown(texts[0])
    unclear = [text for text in texts[0] if needs_order(text)]
    # While the day stays the same, its order changes nothing.
    if not order and unclear and len({text.split()[0] for text in texts[0]}) > 1:
        raise DesignFileError(
            file=file, key=f'column "{uses[chosen[0]].name}"',
            found=f"dates such as {shown(unclear[0])}, where the day or the month may be first",
            wanted='say which with --units "date=dmy" or --units "date=mdy"',
        )  # fmt: skip
    return TimePlan(
        parts=tuple(parts), order=order or "dmy", left_out=tuple(reasons),
        words=f"{words}, counted from the first row",
    )  # fmt: skip


def _stamp_kind(kind: str) -> Literal["date", "clock", "stamp"]:
    return "date" if kind == "date" else "clock" if kind == "clock" else "stamp"


def _has_fraction(texts: Sequence[str]) -> bool:
    return any("." in text.rpartition(":")[2] or "," in text.rpartition(":")[2] for text in texts)


def _unit(use: ColumnUse) -> HeadingUnit:
    return HeadingUnit(use.unit_text, use.unit, use.factor)


def _within_second(use: ColumnUse, sample: Sample, layout: TableLayout) -> bool:
    values = sample.numbers(use.number - 1, layout.decimal)
    return (
        use.unit == "s" and use.factor < 1 and bool(values)
        and all(0 <= value * use.factor < 1 for value in values)
    )  # fmt: skip


def _by_numbers(
    file: str, uses: Sequence[ColumnUse], layout: TableLayout, sample: Sample,
    columns: Sequence[int], banner: Banner,
) -> TimePlan:  # fmt: skip
    first = columns[0]
    values = sample.numbers(first, layout.decimal)
    unit, reason = _time_unit(file, uses[first], values, banner)
    largest = max(map(abs, values), default=0.0) * unit.factor
    part = TimePart(
        column=first, kind="epoch" if 5e8 < largest < 1e11 else "numeric", unit=unit
    )  # fmt: skip
    parts, left_out = [part], []
    words = f'"{uses[first].heading or uses[first].name}" in {unit.text}{reason}'
    for other in columns[1:]:
        more = sample.numbers(other, layout.decimal)
        if uses[other].unit == "s" and len(parts) == 1 and _adds_up(
            np.array(values) * unit.factor, np.array(more) * uses[other].factor
        ):  # fmt: skip
            parts.append(TimePart(column=other, kind="numeric", unit=_unit(uses[other])))
            words += f' + "{uses[other].heading}" in {uses[other].unit_text} within the second'
        elif more == values:
            left_out.append((other, f"the same times as column {first + 1}"))
        else:
            raise DesignFileError(
                file=file,
                found=f'two time columns, "{uses[first].name}" and "{uses[other].name}", that '
                "neither add up nor agree",
                wanted="pick one with --columns, such as "
                f'"time={first + 1}, coil={_any_other(uses, columns)}"',
            )  # fmt: skip
    if part.kind == "epoch":
        words += ", counted from the first row"
    return TimePlan(parts=tuple(parts), words=words, left_out=tuple(left_out))


def _any_other(uses: Sequence[ColumnUse], columns: Sequence[int]) -> int:
    return next((i + 1 for i in range(len(uses)) if i not in columns), 2)


def _adds_up(coarse: np.ndarray, fine: np.ndarray) -> bool:
    """Return whether fine times count within the steps of coarse ones."""
    if coarse.size != fine.size or coarse.size < 3:
        return False
    repeats = np.diff(coarse) == 0
    grows = np.diff(fine)[repeats]
    whole = bool(np.all(coarse == np.floor(coarse)) and np.all((fine >= 0) & (fine < 1)))
    return whole and bool(repeats.any() and np.all(grows > 0) and np.all(np.diff(coarse) >= 0))


def _time_unit(
    file: str, use: ColumnUse, values: Sequence[float], banner: Banner
) -> tuple[HeadingUnit, str]:
    if use.unit == "s":
        return _unit(use), ""
    if banner.time_unit:
        return banner.time_unit, ", by the lines above the table"
    size = min(map(abs, values), default=0.0)
    for low, high, text in EPOCHS:
        if low <= size < high and use.heading:
            return _named(text), " since 1970, by the size of the numbers"
    step = float(np.median(np.diff(values))) if len(values) > 1 else 0.0
    for text in UNITS:
        unit = _named(text)
        if banner.interval and abs(step * unit.factor / banner.interval - 1) < 0.01:
            return unit, f", by the line {shown(banner.words)}"
    name = use.heading or f"column {use.number}"
    raise DesignFileError(
        file=file, key=f'column "{name}"',
        found=f"times without a unit, such as {', '.join(f'{v:.9g}' for v in values[:3])}",
        wanted=f'say their unit with --units "{use.name}=s" (or ms, us), or, if it is no time, '
        "name the columns with --columns",
    )  # fmt: skip


def _named(text: str) -> HeadingUnit:
    unit = known_unit(text)
    assert unit is not None
    return unit
