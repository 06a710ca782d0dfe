"""The measurement beside the design: what was designed, what was measured, whether they agree."""

from dataclasses import dataclass

from circuits.captures.measured import Against, Measured
from circuits.format_quantity import percent, show, show_range
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


SAME = {"measured.gap": "gap"}


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
            low, high = value.low or value.value, value.high or value.value
            rows.append(
                Row(id=name, words=value.words, unit="m", designed=gap, designed_low=gap,
                    designed_high=gap, measured=value.value, low=low, high=high)
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


def say_differences(measured: Measured, rows: tuple[Row, ...]) -> None:
    """Enter a finding for each figure that stands outside what the design predicts."""
    for row in rows:
        if row.agrees:
            continue
        share = f", {percent(row.difference / row.designed)}" if row.designed else ""
        swing = row.id in STATE_OF_SWING
        measured.ledger.say(
            f"beside.{row.id.replace('.', '_')}", Severity.MIND,
            f"{row.words[:1].upper()}{row.words[1:]}: designed {show(row.designed, row.unit)}, "
            f"measured {show_range(row.low, row.high, row.unit)}{share}, beyond the spans of both.",
            remedy="It goes with the arc: check that the captured swing had the wanted one."
            if swing else "Write it back into a copy of the design with --write-back and size "
            "again.",
            value=row.measured, unit=row.unit,
        )  # fmt: skip
