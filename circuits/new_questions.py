"""The six questions of a starting design: what is asked, and what an answer must hold."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import Any

from circuits.design_file import sections
from circuits.design_keys import Place, keys_of, read_key
from circuits.errors import DesignFileError

Texts = dict[str, str]
"""Design-file texts by `section.key`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question; `examples` holds a default for each kind of movement."""

    name: str
    words: str
    examples: MappingProxyType[str, str]
    read: Callable[[str, Texts], Texts]


def _refuse(question: str, found: str, wanted: str) -> DesignFileError:
    return DesignFileError(file="answers", section="", key=question, found=found, wanted=wanted)


def _held(question: str, section: str, key: str, text: str) -> str:
    """Return a text that a key can hold, or refuse the answer."""
    declared = keys_of(sections()[section])[key][1]
    try:
        read_key(declared, text, Place(file="answers", section="", key=question))
    except DesignFileError as error:
        # What a file holds in quotes is typed without them here.
        wanted = re.sub(r'"([^"]*)"', r"\1", error.wanted.replace(", in quotes,", ","))
        raise _refuse(question, error.found, wanted) from error
    return text.strip()


def _held_by_either(question: str, section: str, keys: tuple[str, str], text: str) -> Texts:
    """Return the text under the first of two keys whose unit it has."""
    try:
        return {f"{section}.{keys[0]}": _held(question, section, keys[0], text)}
    except DesignFileError as first:
        try:
            return {f"{section}.{keys[1]}": _held(question, section, keys[1], text)}
        except DesignFileError:
            raise first from None


def _pieces(question: str, answer: str, least: int, most: int, form: str) -> list[str]:
    pieces = [piece.strip() for piece in answer.split(",")]
    if not least <= len(pieces) <= most or not all(pieces):
        count = f"{least}" if least == most else f"{least} or {most}"
        raise _refuse(
            question,
            f"{len(pieces)} part{'s' if len(pieces) != 1 else ''} with commas between them",
            f"give {count} parts, with decimal points, such as {form}",
        )
    return pieces


def _movement(answer: str, _: Texts) -> Texts:
    kind, size = _pieces("movement", answer, 2, 2, '"pendulum, 1.8 s"')
    kind = _held("movement", "movement", "kind", kind).lower()
    keys = ("period", "period") if kind == "balance" else ("period", "effective_length")
    return {"movement.kind": kind, **_held_by_either("movement", "movement", keys, size)}


def _body(answer: str, so_far: Texts) -> Texts:
    key = "inertia" if so_far["movement.kind"] == "balance" else "mass"
    return {f"movement.{key}": _held("body", "movement", key, answer)}


def _swing(answer: str, so_far: Texts) -> Texts:
    balance = so_far["movement.kind"] == "balance"
    form = '"140 deg, 14 mm"' if balance else '"3 deg" or "3 deg, 700 mm"'
    pieces = _pieces("swing", answer, 2 if balance else 1, 2, form)
    texts = _held_by_either("swing", "movement", ("arc", "travel"), pieces[0])
    if len(pieces) == 2:
        texts["movement.magnet_radius"] = _held("swing", "movement", "magnet_radius", pieces[1])
    return texts


def _listed(question: str, keys: tuple[str, ...], form: str, answer: str, _: Texts) -> Texts:
    """Read an answer whose parts stand for these keys, in this order."""
    pieces = _pieces(question, answer, len(keys), len(keys), form)
    texts = {}
    for name, piece in zip(keys, pieces, strict=True):
        section, key = name.split(".")
        texts[name] = _held(question, section, key, piece)
    return texts


def _magnet(form: str, answer: str, so_far: Texts) -> Texts:
    from circuits.catalogue import Catalogue  # noqa: PLC0415 - start-up time

    keys = ("magnet.diameter", "magnet.height", "magnet.grade", "magnet.gap")
    texts = _listed("magnet", keys, form, answer, so_far)
    Catalogue(file="answers").magnet(texts["magnet.grade"])
    return texts


def _supply(answer: str, _: Texts) -> Texts:
    from circuits.catalogue import Catalogue  # noqa: PLC0415 - start-up time

    match = re.fullmatch(r"\s*([0-9]{1,3})\s*[x×]\s*(\S.*)", answer)
    try:
        return {"supply.voltage": _held("supply", "supply", "voltage", answer)}
    except DesignFileError:
        cell = _held("supply", "supply", "cell", match[2] if match else answer)
        Catalogue(file="answers").cell(cell)
    series = _held("supply", "supply", "series", match[1] if match else "1")
    return {"supply.cell": cell, "supply.series": series}


def _examples(pendulum: str, balance: str) -> MappingProxyType[str, str]:
    return MappingProxyType({"pendulum": pendulum, "balance": balance})


QUESTIONS = (
    Question(
        name="movement",
        words="Pendulum or balance, and its period to and fro (or a pendulum's effective length)",
        examples=_examples("pendulum, 1.8 s", "balance, 0.5 s"),
        read=_movement,
    ),
    Question(
        name="body",
        words="Mass of a pendulum's bob, or a balance's moment of inertia",
        examples=_examples("700 g", "1.4e-6 kg*m^2"),
        read=_body,
    ),
    Question(
        name="swing",
        words="Half arc, or travel of the magnet end to end; then pivot to magnet face",
        examples=_examples("4 deg", "140 deg, 15 mm"),
        read=_swing,
    ),
    Question(
        name="magnet",
        words="Magnet cylinder: diameter, height, grade; then gap to the winding",
        examples=_examples("15 mm, 8 mm, N42, 6 mm", "5 mm, 3 mm, N42, 2 mm"),
        read=partial(_magnet, '"15 mm, 8 mm, N42, 6 mm"'),
    ),
    Question(
        name="coil",
        words="Coil: inner diameter, outer diameter, height of the winding, bare wire",
        examples=_examples("14 mm, 36 mm, 10 mm, 0.2 mm", "4 mm, 13 mm, 3 mm, 0.071 mm"),
        read=partial(
            _listed,
            "coil",
            ("coil.inner_diameter", "coil.outer_diameter", "coil.height", "coil.wire"),
            '"14 mm, 36 mm, 10 mm, 0.2 mm"',
        ),
    ),
    Question(
        name="supply",
        words="Cells in series by IEC designation, or a voltage",
        examples=_examples("3 x LR20", "2 x LR6"),
        read=_supply,
    ),
)


def read_answer(question: Question, answer: str, so_far: Texts) -> Texts:
    """Return what the design file holds for one answer; an empty one takes the default.

    Parameters
    ----------
    question : Question
        The question.
    answer : str
        What was typed.
    so_far : dict
        What the answers before it gave.

    Returns
    -------
    texts : dict
        Design-file texts by `section.key`.

    Raises
    ------
    DesignFileError
        Naming the question, what was found and what would do.
    """
    return question.read(answer.strip() or default(question, so_far), so_far)


def default(question: Question, so_far: dict[str, Any]) -> str:
    """Return the example answer for the kind of movement chosen so far."""
    return question.examples[so_far.get("movement.kind", "pendulum")]
