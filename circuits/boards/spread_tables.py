"""The spread as JSON, and board by board as comma-separated values."""

import io
import json
from dataclasses import asdict
from typing import Any

import numpy as np

from circuits import VERSION
from circuits.boards.face_spread import severity_of
from circuits.boards.spread_result import Spread, SpreadCheck, SpreadFigure
from circuits.boards.strength import Strength
from circuits.boards.tolerances import ASSUMED
from circuits.format_quantity import percent
from circuits.sheet import is_key_figure


def _moves(strengths: tuple[Strength, ...]) -> list[dict[str, Any]]:
    return [{"tolerance": s.tolerance, "correlation": s.correlation} for s in strengths]


def _value(figure: SpreadFigure) -> dict[str, Any]:
    entry = {
        "value": figure.sheet, "unit": figure.unit, "low": figure.low, "high": figure.high,
        "basis": "computed", "typical": figure.typical, "centre": figure.centre,
        "least": figure.least, "most": figure.most, "worst_by": figure.worst_by,
        "made_by": figure.made_by, "error": figure.error, "strongest": _moves(figure.strongest),
    }  # fmt: skip
    return entry | ({"absent": figure.absent} if figure.absent else {})


def _finding(check: SpreadCheck) -> dict[str, Any]:
    entry = {
        "id": check.id, "severity": severity_of(check), "value": check.missed, "limit": 0.0,
        "unit": "1", "margin": -check.missed,
        "margin_centre": check.centre, "margin_sheet": check.sheet,
        "margin_low": check.low, "margin_typical": check.typical, "margin_least": check.least,
        "worst_by": check.worst_by, "worst_run_whole": check.run_whole,
        "error": check.error, "strongest": _moves(check.strongest),
        "rests_on": list(check.rests_on),
        "text": f"{percent(check.missed)} of the boards miss the limit of {check.id}.",
    }  # fmt: skip
    extra = {"absent": check.absent, "unconfirmed": check.unconfirmed}
    return entry | {name: share for name, share in extra.items() if share}


def spread_json(found: Spread) -> str:
    """Return the spread for programs: SI values, ASCII, finite numbers."""
    content: dict[str, Any] = {
        "title": found.title,
        "version": VERSION,
        "boards": found.boards,
        "seed": found.seed,
        "distribution": found.distribution,
        "failing": found.failing,
        "runs": found.runs,
        "values": {figure.id: _value(figure) for figure in found.figures},
        "findings": [_finding(check) for check in found.checks],
        "assumed": [
            {"id": one.name, "value": one.above or one.below, "unit": one.unit,
             "source": one.source}
            for one in found.tolerances if one.basis == ASSUMED
        ],
        "tolerances": [
            {"id": one.name, "words": one.words, "below": one.below, "above": one.above,
             "unit": one.unit, "basis": one.basis, "source": one.source}
            for one in found.tolerances
        ],
        "refused": [{"share": one.share, "reason": one.reason} for one in found.refused],
        "not_spread": dict(found.not_spread),
        "judged": dict(found.judged),
    }  # fmt: skip
    if found.reserve is not None:
        content["reserve"] = {
            key: value for key, value in asdict(found.reserve).items() if value is not None
        }
    return json.dumps(content, indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def spread_csv(found: Spread, *, everything: bool = False) -> str:
    """Return one row a board: its place in each tolerance, its figures in SI units, its margins.

    A place is a share: 0 the sheet's value, -1 the least, 1 the most that the tolerance allows.
    """
    samples = found.samples
    figures = [f.id for f in found.figures if f.strongest and (everything or is_key_figure(f.id))]
    checks = [c.id for c in found.checks if everything or severity_of(c) != "good"]
    names = [f"share {one.name}" for one in found.tolerances]
    columns = [*samples.shares.T, *(samples.column(name) for name in figures)]
    columns += [samples.column(f"check {name}") for name in checks]
    columns.append(samples.refused_any.astype(np.float64))
    heading = ["board", *names, *figures, *(f"margin {name}" for name in checks), "no_sheet"]
    text = io.StringIO()
    text.write(",".join(heading) + "\n")
    rows = np.column_stack([np.arange(1, len(samples.shares) + 1), *columns])
    np.savetxt(text, rows, fmt=["%d", *["%.7g"] * (len(columns) - 1), "%d"], delimiter=",")
    return text.getvalue()
