"""Magnet: its shape as the winding sees it, and its remanence with spread and temperature."""

from dataclasses import dataclass

from calc.linkage_parts import MagnetShape
from calc.magnet import remanence_at_temperature
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import show, show_range, show_temperature
from circuits.ledger import Basis, Ledger, Severity

ROOM_TEMPERATURE = 293.15
SOFT = 1.5
"""Recoil permeability above which a magnet that stands alone demagnetises itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MagnetResult:
    """The magnet, or the stack, at the design temperature."""

    shape: MagnetShape
    b_r_low: float
    b_r_high: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Remanence:
    typ: float
    low: float
    high: float
    basis: Basis
    rule: str


def missing(design: Design, key: str, found: str, wanted: str) -> DesignFileError:
    """Return the error for a key of [magnet]."""
    return DesignFileError(file=design.file, section="magnet", key=key, found=found, wanted=wanted)


def size(design: Design, catalogue: Catalogue, ledger: Ledger) -> MagnetResult:
    """Return the magnet of the design file and enter its remanence."""
    remanence = _remanence(design, catalogue, ledger)
    shape = _shape(design, ledger, remanence.typ)
    spread = remanence.low < remanence.high
    ledger.value(
        "linkage.b_r", remanence.typ, "T", words="remanence of the magnet",
        basis=remanence.basis, rule=remanence.rule,
        low=remanence.low if spread else None, high=remanence.high if spread else None,
    )  # fmt: skip
    words = _words(design, shape)
    ledger.part("M1", "magnet", words, design.magnet.grade or "", design.magnet.count or 1)
    return MagnetResult(
        shape=shape, b_r_low=remanence.low, b_r_high=remanence.high, words=words
    )  # fmt: skip


def _needed(design: Design, key: str, example: str) -> float:
    value = getattr(design.magnet, key)
    if value is None:
        raise missing(design, key, "nothing", f'state it, such as {key} = "{example}"')
    return float(value)


def _shape(design: Design, ledger: Ledger, b_r: float) -> MagnetShape:
    magnet = design.magnet
    if magnet.shape is None:
        raise missing(design, "shape", "nothing", 'write shape = "cylinder", "ring" or "block"')
    if magnet.axis is None:
        ledger.assume(
            "magnet.axis", "coil", None, "magnetised along the coil's axis: the usual way"
        )
    lying = magnet.axis == "motion"
    height = _needed(design, "height", "5 mm") * (magnet.count or 1)
    if magnet.shape == "block":
        length, width = _needed(design, "length", "20 mm"), _needed(design, "width", "10 mm")
        if lying:
            return MagnetShape(
                round=False, lying=True, b_r=b_r, along=height, across=width, depth=length
            )
        return MagnetShape(
            round=False, lying=False, b_r=b_r, along=length, across=width, depth=height
        )
    diameter = _needed(design, "diameter", "12 mm")
    bore = _needed(design, "inner_diameter", "4 mm") if magnet.shape == "ring" else 0.0
    if lying:
        return MagnetShape(
            round=True, lying=True, b_r=b_r, along=height, across=diameter, depth=diameter,
            bore=bore,
        )  # fmt: skip
    return MagnetShape(
        round=True, lying=False, b_r=b_r, along=diameter, across=diameter, depth=height, bore=bore
    )


def _remanence(design: Design, catalogue: Catalogue, ledger: Ledger) -> _Remanence:
    magnet, temperature = design.magnet, design.design.temperature or ROOM_TEMPERATURE
    share = design.stated_tolerance.get(
        "magnet.remanence", design.tolerance.remanence or 0.0
    )  # fmt: skip
    if magnet.remanence is not None:
        return _Remanence(
            typ=magnet.remanence, low=magnet.remanence * (1 - share),
            high=magnet.remanence * (1 + share), basis=Basis.STATED,
            rule="remanence of the design file, taken to hold at the design temperature",
        )  # fmt: skip
    if magnet.grade is None:
        raise missing(
            design, "grade", "neither grade nor remanence",
            'state what the seller says, such as grade = "N42", or remanence = "1.3 T"',
        )  # fmt: skip
    grade = catalogue.magnet(magnet.grade)
    alpha = grade.alpha_b_r or 0.0
    if grade.alpha_b_r is None:
        ledger.assume("magnet.alpha_b_r", 0.0, "1/K", f"the catalogue has none for {grade.name}")
    middle = (grade.b_r_min + grade.b_r_max) / 2
    span = design.tolerance.temperature
    ends = [temperature]
    if span is not None and span.from_ is not None and span.to is not None:
        ends = [span.from_, span.to]

    def at(b_r: float, t: float) -> float:
        return remanence_at_temperature(b_r=b_r, alpha_b_r=alpha, temperature=t)

    least = min(grade.b_r_min, middle * (1 - share))
    most = max(grade.b_r_max, middle * (1 + share))
    _check_grade(ledger, grade.name, grade.t_max, grade.mu_rec, max([temperature, *ends]))
    return _Remanence(
        typ=at(middle, temperature), low=min(at(least, t) for t in ends),
        high=max(at(most, t) for t in ends), basis=Basis.CATALOGUE,
        rule=f"{grade.name}: middle of {show_range(grade.b_r_min, grade.b_r_max, 'T')}, "
        f"at {show_temperature(temperature)}",
    )  # fmt: skip


def _check_grade(
    ledger: Ledger, name: str, t_max: float | None, mu_rec: float | None, warmest: float
) -> None:
    if t_max is not None:
        ledger.at_most(
            "linkage.magnet_temperature", warmest, t_max, "K",
            f"{name} keeps its strength up to {show_temperature(t_max)} in a favourable shape; "
            f"here it sees {show_temperature(warmest)}.",
            remedy="Take a grade for a higher temperature." if warmest > t_max else "", soft=True,
        )  # fmt: skip
    if mu_rec is not None and mu_rec > SOFT:
        ledger.say(
            "linkage.self_demagnetised", Severity.MIND,
            f"{name} weakens itself when it stands alone and is short, so it links less than is "
            "computed here.",
            remedy="Take neodymium or ferrite, or measure the EMF and state a smaller remanence.",
        )  # fmt: skip


def _words(design: Design, shape: MagnetShape) -> str:
    magnet = design.magnet
    height = show(_needed(design, "height", "5 mm"), "m")
    if magnet.shape == "block":
        sizes = (magnet.length, magnet.width)
        return f"block {' x '.join(show(s, 'm') for s in sizes if s)} x {height}"
    bore = f", bore {show(shape.bore, 'm')}" if shape.bore else ""
    return f"{magnet.shape}, diameter {show(shape.across, 'm')}{bore}, height {height}"
