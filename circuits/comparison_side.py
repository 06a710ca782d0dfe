"""One side of a comparison: a design file computed, or a file of figures as it stands."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from circuits import pipeline
from circuits.catalogue import Catalogue
from circuits.design_file import parse_design
from circuits.design_text import file_name, parse_toml, read_text
from circuits.ledger import Ledger, Severity
from circuits.sheet_file import Figure, read_sheet_file
from circuits.stage_pass import StagePass


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the two; `done` is None for a file of figures."""

    file: str
    title: str
    values: Mapping[str, Figure]
    findings: Mapping[str, Severity]
    stated: Mapping[tuple[str, str], str]
    done: StagePass | None


def _raw(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_raw(entry)}" for key, entry in value.items()) + " }"
    return str(value)


def _stated(text: str, file: str) -> dict[tuple[str, str], str]:
    """Return the texts of all keys as they stand in the file."""
    return {
        (section, key): _raw(value)
        for section, table in parse_toml(text, file).items()
        for key, value in table.items()
    }


def figures(ledger: Ledger) -> dict[str, Figure]:
    """Return the figures that the stages entered, by name."""
    return {
        value.id: Figure(
            id=value.id,
            value=value.value,
            unit=value.unit,
            low=value.low,
            high=value.high,
            basis=value.basis.value,
        )
        for value in ledger.values.values()
    }


def severities(ledger: Ledger) -> dict[str, Severity]:
    """Return how each finding stands, by name."""
    return {finding.id: finding.severity for finding in ledger.findings.values()}


def read_side(path: str | Path) -> Side:
    """Return a design file computed, or a JSON file of figures as it stands.

    Parameters
    ----------
    path : str or Path
        A design file; a file of figures if its name ends in .json.

    Returns
    -------
    side : Side

    Raises
    ------
    DesignFileError
        If it cannot be used.
    """
    file = file_name(path)
    if Path(path).suffix.lower() == ".json":
        content = read_sheet_file(path)
        return Side(
            file=file, title=content.title, values=content.values, findings=content.findings,
            stated=MappingProxyType({}), done=None,
        )  # fmt: skip
    text = read_text(path)
    design = parse_design(text, file)
    done = pipeline.run(design, Catalogue(design.part, design.file))
    return Side(
        file=file,
        title=design.design.title or file,
        values=MappingProxyType(figures(done.ledger)),
        findings=MappingProxyType(severities(done.ledger)),
        stated=MappingProxyType(_stated(text, file)),
        done=done,
    )
