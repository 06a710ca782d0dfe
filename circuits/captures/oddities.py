"""What was odd about a file, in words: one finding a kind, with count and first line."""

from collections.abc import Iterable

from circuits.captures.banner_words import Banner
from circuits.captures.capture import ColumnUse, Sampling
from circuits.captures.cell_values import Tally
from circuits.captures.column_roles import LEVELS, Plan
from circuits.captures.table_rows import TableRows
from circuits.captures.time_check import TimeCheck
from circuits.captures.time_line import TimeLine
from circuits.ledger import Finding, Severity
from circuits.plain_text import shown

KEPT = "all rows are kept as they stand"
MOST_NAMED = 6
NEAR = 1e-3
"""A sample rate that the banner rounds may differ by this part from the times."""


def _finding(id: str, text: str, value: float | None = None, unit: str | None = None) -> Finding:
    return Finding(id=f"capture.{id}", severity=Severity.MIND, text=text, value=value, unit=unit)


def _times(count: int, one: str, many: str) -> str:
    return f"1 {one}" if count == 1 else f"{count} {many}"


def listed(names: Iterable[str]) -> str:
    """Return some names in quotes, the first few of them."""
    told = [f'"{name}"' for name in names]
    more = f" and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
    return ", ".join(told[:MOST_NAMED]) + more


def byte_findings(rows: TableRows) -> list[Finding]:
    """Return what was odd about the bytes."""
    found = []
    raw = rows.oddities
    if raw.nul_at:
        found.append(_finding(
            "nul_bytes", f"{_times(raw.nul_bytes, 'zero byte', 'zero bytes')} stood in the file, "
            f"the first in line {rows.line_of(raw.nul_at)}, as after a power failure; they are "
            "left out.", raw.nul_bytes, "1",
        ))  # fmt: skip
    if raw.foreign_at:
        found.append(_finding(
            "encoding", f"Some bytes are no UTF-8, the first in line "
            f"{rows.line_of(raw.foreign_at)}; names were read as Western European, figures are "
            "not touched by it.",
        ))  # fmt: skip
    return found


def row_findings(rows: TableRows, plan: Plan) -> list[Finding]:
    """Return what was odd about lines and cells."""
    found = []
    notes, cells = rows.odd_lines.notes, rows.cells.notes
    for kind, tally, one, many in (
        ("blank_lines", notes.blank, "blank line stands", "blank lines stand"),
        ("remarks", notes.remarks, "line of words stands", "lines of words stand"),
    ):
        if tally.count:
            quoted = f" ({tally.text})" if tally.text else ""
            found.append(_finding(
                kind, f"{_times(tally.count, one, many)} among the rows, the first in line "
                f"{tally.line}{quoted}; no figures were in it.", tally.count, "1",
            ))  # fmt: skip
    if notes.headings.count:
        found.append(_finding(
            "headings", f"The heading comes again {_times(notes.headings.count, 'time', 'times')}, "
            f"first in line {notes.headings.line}: a new record begins there.",
            notes.headings.count, "1",
        ))  # fmt: skip
    if cells.empty:
        told = "; ".join(
            f'{tally.count} in "{name}", the first in line {tally.line} ({tally.text})'
            for name, tally in list(cells.empty.items())[:MOST_NAMED]
        )
        total = sum(tally.count for tally in cells.empty.values())
        found.append(_finding(
            "no_figure", f"{_times(total, 'cell holds', 'cells hold')} no figure: {told}; "
            "not a number stands there now.", total, "1",
        ))  # fmt: skip
    for name, tally in cells.unit_changes.items():
        found.append(_finding(
            f"unit_changes.{name}", f'The unit of "{name}" changes '
            f"{_times(tally.count, 'time', 'times')}, first in line {tally.line} from "
            f"{tally.text}; each figure was read with its own unit.", tally.count, "1",
        ))  # fmt: skip
    return found + _column_findings(plan.uses, plan.repeated, set(cells.units))


def _column_findings(
    uses: Iterable[ColumnUse], repeated: tuple[str, ...], beside: set[str]
) -> list[Finding]:
    found = []
    left = [use for use in uses if use.role == "left out" and use.reason.startswith("letters")]
    if left:
        found.append(_finding(
            "letters", f"{_times(len(left), 'column holds', 'columns hold')} letters, no figures, "
            f"and {'is' if len(left) == 1 else 'are'} left out: "
            f"{listed(use.name for use in left)}.", len(left), "1",
        ))  # fmt: skip
    if repeated:
        found.append(_finding(
            "repeated_names", f"More than one column is called {listed(repeated)}; the further "
            "ones are numbered.", len(repeated), "1",
        ))  # fmt: skip
    bare = [
        use for use in uses
        if use.role == "channel" and not use.unit_text and use.name not in beside
        and use.reason != LEVELS
    ]  # fmt: skip
    if bare:
        found.append(_finding(
            "no_unit", f"No unit is told for {listed(use.name for use in bare)}; say it with "
            f'--units "{bare[0].name}=V" where a figure needs it.', len(bare), "1",
        ))  # fmt: skip
    return found


def time_findings(
    check: TimeCheck, line: TimeLine, sampling: Sampling, plan: Plan, banner: Banner
) -> list[Finding]:
    """Return what was odd about the times."""
    if not check.rows:
        if plan.time.interval is not None:
            return []
        return [_finding(
            "no_time", "Neither times nor a sample interval are told; if the rows are even, say it "
            'with --units "interval=1 ms".',
        )]  # fmt: skip
    found = []
    for kind, tally, one, many, then in (
        ("time_repeats", check.repeats, "time is", "times are",
         f"the same as in the row before, {{}}; {KEPT}"),
        ("time_backward", check.backward, "time goes", "times go",
         f"back, by up to {-check.furthest_back:.6g} s, {{}}; {KEPT}, in the file's order"),
        ("clock_change", check.changes, "step is", "steps are",
         f"an hour off, {{}}, as when summer time begins or ends; {KEPT}, a new stretch begins"),
    ):  # fmt: skip
        if tally.count:
            found.append(_tallied(kind, tally, one, many, then))
    if check.gaps.count and sampling == "even":
        found.append(_tallied(
            "gaps", check.gaps, "gap breaks", "gaps break",
            f"the even spacing, {{}}; about {check.missing_rows} rows are missing, "
            f"the longest gap is {check.longest:.6g} s",
        ))  # fmt: skip
    if check.pauses.count and sampling == "uneven":
        found.append(_tallied(
            "gaps", check.pauses, "pause breaks", "pauses break",
            f"the record, {{}}; the longest is {check.longest:.6g} s",
        ))  # fmt: skip
    if sampling == "uneven" and (check.uneven.count or check.repeats.count or check.gaps.count):
        found.append(_finding(
            "uneven", f"The rows are unevenly spaced, {check.interval:.6g} s apart as a rule; "
            "their times count, not their number.", check.interval, "s",
        ))  # fmt: skip
    if sampling == "transitions":
        found.append(_finding(
            "transitions", "A row stands only where a level changes: between two rows the levels "
            "hold.",
        ))  # fmt: skip
    if line.midnights.count:
        found.append(_tallied(
            "midnight", line.midnights, "midnight was", "midnights were",
            "passed, {}: a day was added from there on, as the file has no date",
        ))  # fmt: skip
    if banner.interval and plan.time.parts and sampling == "even":
        mean = check.mean_interval()
        if abs(mean / banner.interval - 1) > NEAR:
            found.append(_finding(
                "interval", f"The lines above the table tell {banner.interval:.6g} s between rows "
                f"({shown(banner.words)}), the times {mean:.6g} s; the times count.", mean, "s",
            ))  # fmt: skip
    return found


def _tallied(id: str, tally: Tally, one: str, many: str, then: str) -> Finding:
    where = ("in" if tally.count == 1 else "first in") + f" line {tally.line}"
    return _finding(id, f"{_times(tally.count, one, many)} {then.format(where)}.", tally.count, "1")


def count_finding(banner: Banner, rows: int, sampling: Sampling) -> list[Finding]:
    """Return whether the file holds another number of rows than its banner tells."""
    if banner.count is None or sampling == "transitions" or abs(banner.count - rows) <= 1:
        return []
    return [_finding(
        "sample_count", f"The lines above the table tell {banner.count} samples, the file holds "
        f"{rows} rows.", rows, "1",
    )]  # fmt: skip


def counter_finding(tally: Tally) -> list[Finding]:
    """Return where the rows' own numbers do not run on."""
    if not tally.count:
        return []
    return [_tallied(
        "counter", tally, "row's number does", "rows' numbers do",
        "not follow the one before, {}: rows may be missing",
    )]  # fmt: skip
