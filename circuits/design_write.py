"""Changes to a design: in memory for a recomputation, or into a new file that keeps comments."""

import os
import shutil
import stat
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from circuits.design import Design, NumberKey, TableKey
from circuits.design_file import Notes, note_reading, parse_design, sections
from circuits.design_keys import Place, keys_of
from circuits.design_rules import check_section, rivals
from circuits.design_text import file_name, read_text
from circuits.errors import DesignFileError
from circuits.ledger import Change

if TYPE_CHECKING:
    pass


def _declared(change: Change, file: str) -> tuple[str, Any]:
    """Return attribute and declaration of the key that a change names."""
    record = sections().get(change.section)
    known = keys_of(record) if record else {}
    if change.key not in known or isinstance(known[change.key][1], TableKey):
        raise DesignFileError(
            file=file,
            section=change.section,
            key=change.key,
            found="no key that a change can set",
            wanted="set one that holds a quantity, a number, a word or a text",
        )
    return known[change.key]


def with_changes(design: Design, changes: Iterable[Change]) -> Design:
    """Return the design with some keys set to new texts, read through the same door.

    Parameters
    ----------
    design : Design
        The design as it stands.
    changes : iterable of Change
        Texts as in the design file; an empty text leaves the key out. A key that tells the same
        fact as a changed one is left out too.

    Returns
    -------
    design : Design

    Raises
    ------
    DesignFileError
        If a text is not what its key holds, or the section then contradicts itself.
    """
    notes = Notes(tolerance=dict(design.stated_tolerance), doubts=list(design.doubts))
    changed: dict[str, dict[str, Any]] = {}
    for change in changes:
        attribute, declared = _declared(change, design.file)
        values = changed.setdefault(change.section, {})
        gone = (change.key, *(rivals(change.section, change.key) if change.text else ()))
        for key in gone:
            values[key] = None
            notes.tolerance.pop(f"{change.section}.{key}", None)
        notes.doubts = [
            doubt
            for doubt in notes.doubts
            if doubt.section != change.section or doubt.key not in gone
        ]
        if change.text:
            place = Place(file=design.file, section=change.section, key=change.key)
            values[attribute] = note_reading(declared, change.text, place, notes)
    records: dict[str, Any] = {}
    for section, values in changed.items():
        stands = getattr(design, section)
        record = sections()[section](**values) if stands is None else replace(stands, **values)
        check_section(section, record, design.file)
        records[section] = record
    return replace(
        design,
        **records,
        stated_tolerance=MappingProxyType(notes.tolerance),
        doubts=tuple(notes.doubts),
    )


def apply_changes(
    path_in: str | Path, changes: Iterable[Change], path_out: str | Path, *, force: bool = False
) -> Design:
    """Write a design file with some keys set to new texts; comments and order are kept.

    Parameters
    ----------
    path_in : str or Path
        The design file as it stands.
    changes : iterable of Change
        As for `with_changes`.
    path_out : str or Path
        The new file.
    force : bool
        Whether an existing file may be overwritten.

    Returns
    -------
    design : Design
        The new file, read again.

    Raises
    ------
    DesignFileError
        If either file cannot be used; then nothing is written.
    """
    text = read_text(path_in)
    parse_design(text, file_name(path_in))
    new = changed_text(text, changes, file_name(path_in))
    design = parse_design(new, file_name(path_out))
    write_whole(path_out, new, force=force)
    return design


def changed_text(text: str, changes: Iterable[Change], file: str) -> str:
    """Return the text of a design file with some keys set to new texts.

    Parameters
    ----------
    text : str
        A valid design file.
    changes : iterable of Change
        As for `with_changes`.
    file : str
        The file's name, for messages.

    Returns
    -------
    text : str
        With all comments, and every other line as it was.
    """
    import tomlkit  # noqa: PLC0415 - start-up time: only who writes waits for it

    document = tomlkit.parse(text)
    for change in changes:
        _, declared = _declared(change, file)
        if change.section not in document:
            if not change.text:
                continue
            document[change.section] = tomlkit.table()
        table: Any = document[change.section]
        for rival in rivals(change.section, change.key) if change.text else (change.key,):
            table.pop(rival, None)
        if change.text:
            table[change.key] = _toml_value(declared, change.text)
    return tomlkit.dumps(document)


def _toml_value(declared: Any, text: str) -> int | float | str:
    """Return a text as the file writes it: counts and ratios bare, all else in quotes."""
    if isinstance(declared, NumberKey):
        try:
            return int(text) if declared.whole else float(text)
        except ValueError:
            return text
    return text


def write_whole(path: str | Path, text: str | bytes, *, force: bool = False) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : str or Path
        The file.
    text : str or bytes
        Its text, or what it holds otherwise.
    force : bool
        Whether an existing file may be overwritten.

    Raises
    ------
    DesignFileError
        If the file exists, or cannot be written.
    """
    name = file_name(path)
    draft = None
    try:
        check_target(path, force=force)
        target = os.path.realpath(path)
        draft = f"{target}.{os.getpid()}.part"
        content = text.encode("utf-8") if isinstance(text, str) else text
        with open(draft, "xb") as file:
            file.write(content)
        if os.path.exists(target):
            shutil.copymode(target, draft)
        os.replace(draft, target)
    except DesignFileError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that cannot be a file's"
        raise DesignFileError(
            file=name,
            found=f"a place that cannot be written ({reason.lower()})",
            wanted="name a file in a directory of your own",
        ) from error
    finally:
        if draft is not None and os.path.exists(draft):
            os.unlink(draft)


def check_target(path: str | Path, *, force: bool = False) -> None:
    """Refuse a file that exists already, unless it may be overwritten.

    Parameters
    ----------
    path : str or Path
        The file to be written.
    force : bool
        Whether an existing file may be overwritten.

    Raises
    ------
    DesignFileError
        If it exists, or is no ordinary file.
    """
    name = file_name(path)
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError):
        # What keeps it from being written will be said when it is.
        return
    if not stat.S_ISREG(mode):
        kind = "a directory" if stat.S_ISDIR(mode) else "a pipe or device"
        raise DesignFileError(file=name, found=kind, wanted="name an ordinary file")
    if not force:
        raise DesignFileError(
            file=name,
            found="a file that exists already",
            wanted="name another file, or add --force to overwrite it",
        )
