"""The measurement beside the design: what was designed, what was measured, whether they agree."""

from dataclasses import dataclass

from circuits.captures.measured import Against, Measured
from circuits.format_quantity import percent, show
from circuits.ledger import Severity

STATE_OF_SWING = ("movement.arc", "movement.speed", "emf.emf_peak", "emf.peak_spacing",
                  "movement.period_at_arc")  # fmt: skip
"""Figures that go with the arc of the swing that happened to be captured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure, designed and measured, each with its span; `agrees` is whether these meet."""

    id: str
    words: str
    unit: str | None
    designed: float
    designed_low: float
    designed_high: float
    measured: float
    low: float
    high: float

    @property
    def difference(self) -> float:
        """Measured less designed."""
        return self.measured - self.designed

    @property
    def agrees(self) -> bool:
        """Whether the spans of both meet."""
        return self.low <= self.designed_high and self.high >= self.designed_low


def rows_of(measured: Measured, against: Against) -> tuple[Row, ...]:
    """Return what the design predicts beside what was measured.

    Parameters
    ----------
    measured : Measured
        What the capture has told.
    against : Against
        The design.

    Returns
    -------
    rows : tuple of Row
        In the order of the measured figures.
    """
    predicted = against.done.ledger.values
    rows = []
    for name, value in measured.ledger.values.items():
        other = predicted.get(name) or predicted.get(f"{name}_fresh")
        if name == "measured.gap" and not isinstance(value.value, str):
            gap = against.done.result("linkage").gap
            slack = against.design.tolerance.gap or 0.0
            low, high = value.low or value.value, value.high or value.value
            rows.append(
                Row(id=name, words=value.words, unit="m", designed=gap, designed_low=gap - slack,
                    designed_high=gap + slack, measured=value.value, low=low, high=high)
            )  # fmt: skip
        if other is None or isinstance(value.value, str) or isinstance(other.value, str):
            continue
        if other.unit != value.unit:
            continue
        rows.append(
            Row(
                id=name, words=value.words, unit=value.unit, designed=other.value,
                designed_low=other.value if other.low is None else other.low,
                designed_high=other.value if other.high is None else other.high,
                measured=value.value, low=value.value if value.low is None else value.low,
                high=value.value if value.high is None else value.high,
            )
        )  # fmt: skip
    return tuple(rows)


def say_differences(measured: Measured, rows: tuple[Row, ...], against: Against) -> None:
    """Enter whether the figures stand within what the design predicts."""
    _say_rail(measured, against)
    outside = [row for row in rows if not row.agrees]
    if not rows:
        return
    if not outside:
        every = f"The one figure that the design predicts lies within the spans: {rows[0].id}."
        if len(rows) > 1:
            every = f"All {len(rows)} figures that the design predicts lie within the spans."
        measured.good("beside.figures", every)
        return
    listed = ", ".join(_told(row) for row in outside)
    written = {f"{change.section}.{change.key}" for change in measured.changes}
    swing = any(row.id in STATE_OF_SWING for row in outside)
    remedies = []
    if swing:
        remedies.append("What goes with the arc: check that the captured swing had the wanted one.")
    if written:
        remedies.append("What was measured goes into a copy of the design with --write-back.")
    measured.ledger.say(
        "beside.figures", Severity.MIND,
        f"{len(outside)} of {len(rows)} figures lie beyond the spans of both design and "
        f"measurement: {listed}.",
        remedy=" ".join(remedies) or "Look for the cause at the bench before the design is "
        "changed.",
    )  # fmt: skip


def _told(row: Row) -> str:
    share = percent(row.difference / row.designed) if row.designed else show(row.measured, row.unit)
    return f"{row.id} ({'+' if row.difference > 0 else ''}{share})"


def _say_rail(measured: Measured, against: Against) -> None:
    """Say so where the captured rail is another than the design counts on."""
    found = measured.ledger.values.get("supply.v_rail")
    if found is None or isinstance(found.value, str):
        return
    rails = against.done.result("rails")
    if abs(found.value / rails.fresh.v_coil - 1) < 0.02:
        return
    measured.mind(
        "beside.rail",
        f"The captured rail is {show(found.value, 'V')}; the design counts on "
        f"{show(rails.fresh.v_coil, 'V')} from fresh cells and {show(rails.spent.v_coil, 'V')} "
        "from spent ones, and the table takes the fresh ones. Current, charge and energy go with "
        "it.",
    )
