"""Two designs, or a design and a measurement, side by side: what differs and what that changes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from circuits import pipeline
from circuits.catalogue import Catalogue
from circuits.comparison_side import Side, figures, severities
from circuits.design import Design
from circuits.design_file import sections
from circuits.design_keys import keys_of
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Basis, Change, Severity
from circuits.sheet import is_key_figure
from circuits.sheet_file import Figure
from circuits.stage_pass import StagePass

NOTABLE = 0.005
"""A figure that moves by less than this share of itself is not worth a line."""
MOST_EFFECTS = 5
METERED = (
    "coil.r_coil", "coil.l_coil", "movement.period", "movement.quality_factor", "emf.emf_peak",
    "emf.peak_spacing", "pickup.v_bias", "drive.i_coil", "drive.v_switch", "clamp.v_switch_peak",
    "clamp.t_decay", "filter.f_c", "energy.e_pulse", "supply.v_dip",
    "rate.arc_settled", "rate.rate",
)  # fmt: skip
"""Figures that meter, oscilloscope or clock can read on a finished piece."""
TOLD_BY = {"design": ("title", "note")}
"""Keys that no figure hangs on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What one difference does to one figure of the first design."""

    id: str
    unit: str | None
    before: float | int | str
    after: float | int | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A finding that stands otherwise; None where it is absent."""

    id: str
    before: Severity | None
    after: Severity | None

    @property
    def breaks(self) -> bool:
        """Whether it fails only now."""
        return self.after is Severity.FAILS and self.before is not Severity.FAILS


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One key that differs, and what the second's text does to the first design by itself."""

    section: str
    key: str
    first: str
    second: str
    effects: tuple[Effect, ...] = ()
    turns: tuple[Turn, ...] = ()
    not_tried: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One figure on both sides; `agrees` is None where no tolerance says how far it may lie."""

    first: Figure
    second: Figure

    @property
    def moves(self) -> bool:
        """Whether it differs by more than is worth a line."""
        return _moved(self.first.value, self.second.value) > 4 * NOTABLE

    @property
    def sized(self) -> bool:
        """Whether each side's file leaves it out, so that each has its own."""
        return self.first.basis == self.second.basis == Basis.SIZED.value

    @property
    def agrees(self) -> bool | None:
        """Whether the second, within its uncertainty if it was measured, lies where it may."""
        allowed, measured = self.first.span, self.second.basis == Basis.MEASURED.value
        if allowed is None or isinstance(self.second.value, str):
            return None
        if not measured and self.first.id not in METERED:
            return None
        low = high = self.second.value
        if measured and self.second.span is not None:
            low, high = self.second.span
        return low <= allowed[1] and high >= allowed[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Everything that differs between two sides."""

    first: Side
    second: Side
    differences: tuple[Difference, ...]
    pairs: tuple[Pair, ...]
    turns: tuple[Turn, ...]

    @property
    def measured(self) -> bool:
        """Whether one side is a file of figures."""
        return self.first.done is None or self.second.done is None

    @property
    def outside(self) -> tuple[Pair, ...]:
        """The figures that lie beyond what the first allows."""
        return tuple(pair for pair in self.pairs if pair.agrees is False)

    @property
    def sized_anew(self) -> tuple[Pair, ...]:
        """The parts that both files leave out and that come out otherwise."""
        return tuple(pair for pair in self.pairs if pair.sized and pair.moves)

    @property
    def breaks(self) -> tuple[Turn, ...]:
        """The findings that fail on the second side only."""
        return tuple(turn for turn in self.turns if turn.breaks)


def _moved(before: float | int | str, after: float | int | str) -> float:
    if isinstance(before, str) or isinstance(after, str):
        return 0.0 if before == after else 1.0
    largest = max(abs(before), abs(after))
    return abs(after - before) / largest if largest else 0.0


def _meant(design: Design, section: str, key: str) -> Any:
    """Return what a key means, in SI units, however it is written."""
    if section == "part":
        return design.part.get(key)
    record = getattr(design, section)
    value = None if record is None else getattr(record, keys_of(sections()[section])[key][0])
    return value, design.stated_tolerance.get(f"{section}.{key}")


def _turns(before: Mapping[str, Severity], after: Mapping[str, Severity]) -> tuple[Turn, ...]:
    """Return the findings that stand otherwise."""
    names = [*before, *(name for name in after if name not in before)]
    turned = [Turn(id=name, before=before.get(name), after=after.get(name)) for name in names]
    return tuple(turn for turn in turned if turn.before is not turn.after)


def _effects(before: Mapping[str, Figure], after: Mapping[str, Figure]) -> tuple[Effect, ...]:
    """Return what moves most, one figure a stage: many figures of one stage move together."""
    strongest: dict[str, tuple[float, str]] = {}
    for name, figure in before.items():
        if name in after and is_key_figure(name) and not name.endswith("_spent"):
            stage = name.partition(".")[0]
            moved = (_moved(figure.value, after[name].value), name)
            strongest[stage] = max(strongest.get(stage, moved), moved, key=lambda entry: entry[0])
    ranked = sorted(strongest.values(), key=lambda entry: -entry[0])
    return tuple(
        Effect(id=name, unit=before[name].unit, before=before[name].value, after=after[name].value)
        for moved_by, name in ranked[:MOST_EFFECTS]
        if moved_by > NOTABLE
    )


def _alone(first: Side, done: StagePass, difference: Difference) -> Difference:
    """Return a difference with what it does by itself to the first design."""
    section, key = difference.section, difference.key
    if key in TOLD_BY.get(section, ()):
        return difference
    text = "" if difference.second == ABSENT else difference.second
    change = Change(section=section, key=key, text=text)
    try:
        catalogue = Catalogue(done.design.part, done.design.file)
        tried = pipeline.run(with_changes(done.design, (change,)), catalogue, done).ledger
    except DesignFileError as error:
        return Difference(
            section=section, key=key, first=difference.first, second=difference.second,
            not_tried=f"not by itself: found {error.found}; {error.wanted}",
        )  # fmt: skip
    return Difference(
        section=section, key=key, first=difference.first, second=difference.second,
        effects=_effects(first.values, figures(tried)),
        turns=_turns(first.findings, severities(tried)),
    )  # fmt: skip


ABSENT = "left out"


def _differing(first: Side, second: Side) -> list[Difference]:
    one, other = first.done, second.done
    if one is None or other is None:
        return []
    places = [*first.stated, *(place for place in second.stated if place not in first.stated)]
    return [
        Difference(
            section=place[0], key=place[1],
            first=first.stated.get(place, ABSENT), second=second.stated.get(place, ABSENT),
        )
        for place in places
        if _meant(one.design, *place) != _meant(other.design, *place)
    ]  # fmt: skip


def _bench(side: Side) -> bool:
    """Whether a side was measured: its findings are about a capture, not about a design."""
    return side.done is None and any(
        figure.basis == Basis.MEASURED.value for figure in side.values.values()
    )


def compare(
    first: Side, second: Side, progress: Callable[[Sequence[Difference]], Iterable[Difference]]
) -> Comparison:
    """Return what differs between two sides and what each difference changes.

    Parameters
    ----------
    first : Side
        The one that the other is held against: a design, or the first copy of one.
    second : Side
        The other: a design, a copy, or what was measured.
    progress : callable
        Passes the differences on while it tells how far the work has come.

    Returns
    -------
    comparison : Comparison
    """
    differing = _differing(first, second)
    done = first.done
    tried = [_alone(first, done, entry) for entry in progress(differing)] if done else differing
    return Comparison(
        first=first,
        second=second,
        differences=tuple(tried),
        pairs=tuple(
            Pair(first=figure, second=second.values[name])
            for name, figure in first.values.items()
            if name in second.values and second.values[name].unit == figure.unit
        ),
        turns=() if _bench(first) or _bench(second) else _turns(first.findings, second.findings),
    )  # fmt: skip
