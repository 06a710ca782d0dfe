"""Writes a set of decks into a directory: all of them, or none."""

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from circuits.design_text import file_name
from circuits.errors import DesignFileError


def write_decks(directory: str, decks: Mapping[str, str], *, force: bool) -> None:
    """Write decks under their fixed names.

    Parameters
    ----------
    directory : str
        Where to; made if it is not there.
    decks : mapping of str to str
        Texts by file name.
    force : bool
        Whether decks of these names may be overwritten.

    Raises
    ------
    DesignFileError
        If the directory cannot be used, or a deck is there already; then nothing is changed.
    """
    name = file_name(directory)
    target = Path(directory)
    try:
        _check(target, name, decks, force=force)
        new = not target.exists()
        if new and not target.parent.is_dir():
            raise DesignFileError(
                file=name, found=f"no directory {file_name(target.parent)}",
                wanted="name a directory inside one that exists",
            )  # fmt: skip
        drafts = Path(tempfile.mkdtemp(prefix=".coilwright-", dir=target.parent if new else target))
        try:
            for deck, text in decks.items():
                (drafts / deck).write_text(text, encoding="ascii", newline="\n")
            if new:
                drafts.chmod(0o777 & ~_umask())
                drafts.rename(target)
            else:
                for deck in decks:
                    os.replace(drafts / deck, target / deck)
        finally:
            shutil.rmtree(drafts, ignore_errors=True)
    except DesignFileError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that cannot be a directory's"
        raise DesignFileError(
            file=name,
            found=f"a place that cannot be written ({reason.lower()})",
            wanted="name a directory of your own",
        ) from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _check(target: Path, name: str, decks: Mapping[str, str], *, force: bool) -> None:
    if not target.exists():
        if target.is_symlink():
            raise DesignFileError(
                file=name, found="a link that leads nowhere", wanted="name another directory"
            )
        return
    if not target.is_dir():
        raise DesignFileError(
            file=name, found="a file, not a directory", wanted="name a directory, or a new name"
        )
    there = [deck for deck in decks if os.path.lexists(target / deck)]
    odd = [deck for deck in there if not (target / deck).is_file()]
    if odd:
        raise DesignFileError(
            file=name, found=f"{odd[0]}, which is no ordinary file", wanted="name another directory"
        )
    if there and not force:
        raise DesignFileError(
            file=name,
            found=f"{there[0]}, which exists already",
            wanted="name another directory, or add --force to overwrite the decks in it",
        )
