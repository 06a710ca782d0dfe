"""A confirmation as a table for people and as JSON for programs."""

import json
import textwrap

from circuits.confirmation import Confirmation, Figure
from circuits.format_quantity import show

WIDTH = 80
CAUTION = (
    "This agrees with a simulator of the same circuit and the same parts, not yet with your bench: "
    "measure before you trust it."
)
DISAGREES = (
    "These figures differ beyond their tolerance. The simulator solves the circuit as it stands: "
    "trust its figure, look at what the reason names, and measure."
)


def confirmation_json(found: Confirmation, version: str) -> str:
    """Return a confirmation for other programs, in SI units."""
    return (
        json.dumps(
            {
                "title": found.title,
                "version": version,
                "simulator": found.version,
                "agrees": found.agrees,
                "figures": [
                    {
                        "id": figure.id,
                        "state": figure.state,
                        "unit": figure.unit,
                        "calculated": figure.calculated,
                        "simulated": figure.simulated,
                        "difference": figure.difference,
                        "tolerance": figure.tolerance,
                        "agrees": figure.agrees,
                        "reason": figure.reason,
                    }
                    for figure in found.figures
                ],
                "notes": list(found.notes),
            },
            indent=2,
            allow_nan=False,
        )
        + "\n"
    )


STATES = {"fresh": "stated", "spent": "lowest"}
"""What tells the states of a supply of a stated voltage apart."""


def _state(figure: Figure, found: Confirmation) -> str:
    return figure.state if found.cells else STATES.get(figure.state, figure.state)


def _row(figure: Figure, found: Confirmation) -> str:
    name = f"{figure.id}, {_state(figure, found)}"
    difference = f"{100 * figure.difference:+.2f} %"
    mark = "" if figure.agrees else "  differs"
    return (
        f"  {name:<28}{show(figure.calculated, figure.unit):>13}"
        f"{show(figure.simulated, figure.unit):>13}{difference:>11}{mark}"
    ).rstrip()


def confirmation_text(found: Confirmation) -> str:
    """Return a confirmation as plain text."""
    lines = [
        f"{found.title}: the calculators beside {found.version}",
        "",
        f"  {'figure':<28}{'calculated':>13}{'simulated':>13}{'difference':>11}",
    ]
    reasons: dict[str, list[Figure]] = {}
    for figure in found.figures:
        reasons.setdefault(figure.reason, []).append(figure)
    lines += [_row(figure, found) for figure in found.figures]
    lines += ["", "Where the differences come from"]
    for reason, figures in reasons.items():
        names = ", ".join(dict.fromkeys(figure.id for figure in figures))
        within = f"within {100 * max(figure.tolerance for figure in figures):g} %"
        if all(figure.bound for figure in figures):
            within = within.replace("within", "any less agrees, more than this by at most", 1)
        lines += textwrap.wrap(
            f"{names}: {reason} ({within}).", WIDTH,
            initial_indent="  ", subsequent_indent="    ",
        )  # fmt: skip
    lines += ["", "What else the simulator saw"]
    for note in found.notes:
        lines += textwrap.wrap(note, WIDTH, initial_indent="  ", subsequent_indent="  ")
    differing = [
        f"{figure.id} ({_state(figure, found)})" for figure in found.figures if not figure.agrees
    ]
    verdict = (
        f"All {len(found.figures)} figures agree within their tolerances. {CAUTION}"
        if not differing
        else f"{DISAGREES} They are: {', '.join(differing)}."
    )
    lines += ["", *textwrap.wrap(verdict, WIDTH)]
    return "\n".join(lines) + "\n"
