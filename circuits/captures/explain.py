"""A rate error split: which cause can give it, which cannot, and what each would take."""

import json
import textwrap
from dataclasses import dataclass
from math import radians
from typing import Any

from calc.calculator import OutOfRangeError
from calc.disturbance import impulse_rate, support_rate
from calc.gravity import gravity_at_height, gravity_at_latitude, rate_from_gravity
from calc.pendulum import STANDARD_GRAVITY, circular_error
from calc.rate import nut_turns, temperature_rate
from calc.rate_split import arc_for_rate, bob_for_rate, warming_for_rate
from circuits.captures.measured import Against
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.face_json import sheet_json
from circuits.format_quantity import DAY, percent, show, significant
from circuits.ledger import Basis, Ledger, Severity
from circuits.sheet import compose
from circuits.stages.movement import MovementResult
from circuits.temperature_span import span_of

STEADY = 0.1
"""An arc may be expected to keep within a tenth of itself; common practice, no source."""
ROOM = 10.0
"""K; a heated room over a day, where the design states no span; common practice, no source."""
STEEL = 11.5e-6
CLOCK = 1.0 / DAY
LATITUDE = radians(45.0)
MOVED = radians(5.0)
HILL = 300.0
PART = 0.02
"""A cause that gives less than this share of the error is no part of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause: the rates that it can give as ratios, and in words what this error would take."""

    name: str
    low: float
    high: float
    takes: str
    free: bool = False
    known: bool = True
    assumed: str = ""

    def share(self, rate: float) -> float:
        """Return the share of the error that it can give: at most all of it."""
        if self.free:
            return 1.0
        reach = self.low if rate < 0 else self.high
        return min(max(reach / rate, 0.0), 1.0)


def causes_of(rate: float, against: Against) -> tuple[Cause, ...]:
    """Return what can cause a rate error of a design.

    Parameters
    ----------
    rate : float
        Gain as a share of time, negative loses.
    against : Against
        The design.

    Returns
    -------
    causes : tuple of Cause
        Bob or spring, temperature, arc, impulse, place, support, reference clock.

    Raises
    ------
    DesignFileError
        If the error is none, or too large to be one.
    """
    design, movement = against.design, against.done.result("movement")
    if not 0 < abs(rate) < 0.5:
        raise DesignFileError(
            file="command line", key="--explain", found=f"{show(DAY * rate, 's/day')}",
            wanted='an error such as "-40 s/day"; negative loses',
        )  # fmt: skip
    pendulum = movement.kind == "pendulum"
    found = [_bob(rate, design, movement) if pendulum else _spring(rate)]
    if pendulum:
        found += [_temperature(rate, design), _arc(rate, movement)]
    found.append(_impulse(rate, against, movement))
    if pendulum:
        found += [_place(rate), _support(rate, design, movement)]
    found.append(_clock(rate, design))
    return tuple(found)


def _bob(rate: float, design: Design, movement: MovementResult) -> Cause:
    length = movement.effective_length
    assert length is not None
    part = bob_for_rate(rate=rate, effective_length=length)
    pitch = design.movement.nut_pitch
    turns = "" if pitch is None else (
        f", {significant(abs(nut_turns(change=part.change, nut_pitch=pitch)))} turns of the nut"
    )  # fmt: skip
    way = "low: raise it" if part.change > 0 else "high: lower it"
    return Cause(
        name="bob position", low=-1.0, high=1.0, free=True,
        takes=f"the bob stands {show(abs(part.change), 'm')} too {way}{turns}",
    )  # fmt: skip


def _spring(rate: float) -> Cause:
    return Cause(
        name="spring or timing masses", low=-1.0, high=1.0, free=True,
        takes=f"a spring {percent(abs(2 * rate))} too {'soft' if rate < 0 else 'stiff'}, or as "
        "much inertia",
    )  # fmt: skip


def _temperature(rate: float, design: Design) -> Cause:
    expansion = design.movement.rod_expansion
    span = span_of(design)
    kelvins = ROOM if span is None else span[1] - span[0]
    known = STEEL if expansion is None else expansion
    assumed = []
    if span is None:
        assumed.append(f"{ROOM:g} K of a room's day")
    if expansion is None:
        assumed.append(f"a steel rod, {STEEL} 1/K")
    if known <= 0 or kelvins <= 0:
        return Cause(name="temperature", low=0.0, high=0.0, takes="a rod that does not grow")
    reach = abs(temperature_rate(expansion=known, temperature_change=kelvins))
    warming = warming_for_rate(rate=rate, expansion=known)
    return Cause(
        name="temperature", low=-reach, high=reach, assumed=" and ".join(assumed),
        takes=f"{significant(abs(warming))} K {'warmer' if warming > 0 else 'colder'} than when "
        f"it was regulated; the span is {significant(kelvins)} K",
    )  # fmt: skip


def _arc(rate: float, movement: MovementResult) -> Cause:
    arc = movement.arc
    here = circular_error(arc=arc)
    wider = circular_error(arc=min(arc * (1 + STEADY), 3.0)) - here
    narrower = circular_error(arc=arc * (1 - STEADY)) - here
    now = arc_for_rate(rate=rate, arc=arc)
    takes = f"an arc of {show(now, 'rad')} instead of {show(arc, 'rad')}"
    if now == 0:
        takes = f"no arc is small enough: none at all gains {show(-DAY * here, 's/day')} only"
    return Cause(name="arc", low=wider, high=narrower, takes=takes,
                 assumed=f"an arc that keeps within {percent(STEADY)}")  # fmt: skip


def _impulse(rate: float, against: Against, movement: MovementResult) -> Cause:
    value = against.done.ledger.values.get("drive.pulse_from_centre")
    width = against.done.ledger.values.get("drive.pulse_width")
    place = 0.0
    if value is not None and not isinstance(value.value, str):
        place = float(value.value)
    if width is not None and not isinstance(width.value, str):
        place += float(width.value) / 2
    try:
        given = impulse_rate(phase=movement.omega * place, q_factor=movement.q_low)
        most = abs(given)
    except OutOfRangeError:
        most = 0.5 / movement.q_low
    return Cause(
        name="impulse", low=-most, high=most,
        takes=f"an impulse that acts {'after' if rate < 0 else 'before'} the centre; the "
        f"design's has its middle {show(abs(place), 's')} {'after' if place >= 0 else 'before'} "
        f"it, where it makes the movement {'lose' if place >= 0 else 'gain'} "
        f"{show(DAY * most, 's/day')} at most",
    )  # fmt: skip


def _place(rate: float) -> Cause:
    g = gravity_at_latitude(latitude=LATITUDE)
    north = rate_from_gravity(g_from=g, g_to=gravity_at_latitude(latitude=LATITUDE + MOVED))
    up = rate_from_gravity(g_from=g, g_to=gravity_at_height(g=g, height=HILL))
    reach = max(abs(north), abs(up))
    return Cause(
        name="place", low=-reach, high=reach,
        assumed="a move by up to 5 degrees of latitude at 45, or up or down 300 m",
        takes=f"gravity {significant(2e6 * abs(rate))} ppm "
        f"{'weaker' if rate < 0 else 'stronger'}: only if it was moved since it was regulated",
    )  # fmt: skip


def _support(rate: float, design: Design, movement: MovementResult) -> Cause:
    length = movement.effective_length
    assert length is not None
    mass = movement.mass or movement.inertia / length**2
    if rate > 0:
        return Cause(name="support", low=-1.0, high=0.0,
                     takes="a support that makes it gain, which none does; one that sways "
                     "makes it lose")  # fmt: skip
    needs = mass * STANDARD_GRAVITY / (2 * length * -rate)
    takes = f"a support no stiffer than {significant(needs)} N/m at the pivot"
    stiffness = design.movement.support_stiffness
    if stiffness is None:
        return Cause(name="support", low=0.0, high=0.0, known=False,
                     takes=f"{takes}; support_stiffness is not stated, so push with 10 N and "
                     f"look whether it gives {show(10 / needs, 'm')}")  # fmt: skip
    gives = support_rate(mass=mass, effective_length=length, stiffness=stiffness)
    return Cause(name="support", low=min(gives, 0.0), high=0.0, takes=takes)


def _clock(rate: float, design: Design) -> Cause:
    tolerance = design.controller.crystal_tolerance
    reach = CLOCK if tolerance is None else tolerance
    return Cause(
        name="reference clock", low=-reach, high=reach,
        takes=f"a reference that {'gains' if rate < 0 else 'loses'} "
        f"{show(DAY * abs(rate), 's/day')} itself: compare it with a time signal over a week",
        assumed="a watch crystal, a second a day" if tolerance is None else "",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A rate error with its causes; `text` and `json` are its faces."""

    rate: float
    title: str
    causes: tuple[Cause, ...]
    ledger: Ledger

    @property
    def text(self) -> str:
        """The split in sentences, what can explain it first."""
        lines = [f"{self.title}: what can make it "
                 f"{'gain' if self.rate > 0 else 'lose'} {show(abs(DAY * self.rate), 's/day')}?",
                 ""]  # fmt: skip
        for cause in sorted(self.causes, key=lambda one: -one.share(self.rate)):
            lines.append(f"  {_verdict(cause, self.rate)}")
            lines += _wrapped(f"It would take: {cause.takes}.", "      ")
            if cause.assumed:
                lines += _wrapped(f"Assumed: {cause.assumed}.", "      ")
        lines.append("")
        for finding in self.ledger.findings.values():
            lines += _wrapped(finding.text, "  ")
        return "\n".join(lines) + "\n"

    @property
    def json(self) -> str:
        """The split for other programs."""
        sheet = compose(self.title, self.ledger, self.ledger.findings.values())
        content: dict[str, Any] = json.loads(sheet_json(sheet))
        content["causes"] = [
            {"name": one.name, "takes": one.takes, **_json_reach(one, self.rate)}
            for one in self.causes
        ]
        return json.dumps(content, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        text, 80, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )


def _json_reach(cause: Cause, rate: float) -> dict[str, float]:
    """Return what is known of a cause's reach; of one that is not known, nothing."""
    if not cause.known:
        return {}
    share = {"share": cause.share(rate)}
    return share if cause.free else share | {"low": DAY * cause.low, "high": DAY * cause.high}


def named(words: list[str]) -> str:
    """Return words as a sentence lists them.

    >>> named(["arc"]), named(["arc", "place", "impulse"])
    ('arc', 'arc, place and impulse')
    """
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _verdict(cause: Cause, rate: float) -> str:
    name = cause.name[:1].upper() + cause.name[1:]
    if cause.free:
        return f"{name} can explain all of it."
    if not cause.known:
        return f"{name}: not known, the design does not state it."
    reach = show(abs(DAY * (cause.low if rate < 0 else cause.high)), "s/day")
    share = cause.share(rate)
    if share >= 1:
        return f"{name} can explain all of it ({reach} at most)."
    if share < PART:
        return f"{name} cannot explain it ({reach} at most)."
    return f"{name} can explain {percent(share)} of it at most ({reach})."


def explain(rate: float, against: Against) -> Explained:
    """Split a rate error of a design.

    Parameters
    ----------
    rate : float
        Gain as a share of time, negative loses.
    against : Against
        The design.

    Returns
    -------
    explained : Explained
    """
    causes = causes_of(rate, against)
    movement: MovementResult = against.done.result("movement")
    ledger = Ledger()
    ledger.value("rate.rate", DAY * rate, "s/day", words="rate error to explain",
                 basis=Basis.MEASURED, rule="told by --explain")  # fmt: skip
    if movement.effective_length is not None:
        part = bob_for_rate(rate=rate, effective_length=movement.effective_length)
        ledger.value("explain.bob_change", part.change, "m",
                     words="how much too long it is, if length alone explains it",
                     basis=Basis.COMPUTED, rule="length ((1 + rate)^-2 - 1)")  # fmt: skip
        pitch = against.design.movement.nut_pitch
        if pitch is not None:
            ledger.value("explain.nut_turns", nut_turns(change=part.change, nut_pitch=pitch), "1",
                         words="turns of the nut that raise the bob", basis=Basis.COMPUTED,
                         rule="change / nut_pitch")  # fmt: skip
    for cause in causes:
        if not cause.free and cause.known:
            name = cause.name.replace(" ", "_")
            reach = cause.low if rate < 0 else cause.high
            ledger.value(f"explain.{name}", DAY * reach, "s/day",
                         words=f"most that {cause.name} can give in this direction",
                         basis=Basis.COMPUTED, rule=cause.takes)  # fmt: skip
            if cause.assumed:
                ledger.assume(f"explain.{name}", cause.assumed, None, "common practice, no source")
    bounded = [cause for cause in causes if not cause.free and cause.known]
    alone = [cause.name for cause in bounded if cause.share(rate) >= 1]
    text = (
        f"Of the rest, {named(alone)} could do it alone as well: rule "
        f"{'it' if len(alone) == 1 else 'them'} out first."
        if alone
        else "None of the others reaches it, not even alone: regulate first, look at them after."
    )
    ledger.say("explain.verdict", Severity.MIND if alone else Severity.GOOD, text)
    return Explained(rate=rate, title=against.design.design.title or against.design.file,
                     causes=causes, ledger=ledger)  # fmt: skip
