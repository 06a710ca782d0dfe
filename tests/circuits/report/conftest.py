"""A real browser as a fixture: absent it skips at a desk, and fails where CI is set."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, sync_playwright

from tests.circuits.report.reports import page_of

PROGRAMS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


def _absent(reason: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"the browser's tests may not be skipped here: {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = next((found for name in PROGRAMS if (found := shutil.which(name))), None)
    if program is None:
        _absent(f"no browser found: none of {', '.join(PROGRAMS)} is installed")
    with sync_playwright() as playwright:
        try:
            opened = playwright.chromium.launch(
                executable_path=program, args=["--no-sandbox", "--disable-gpu"]
            )
        except Error as error:
            _absent(f"{program} does not start: {error}")
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def on_disk(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return the reports as files, with the pages on demand."""
    folder = tmp_path_factory.mktemp("reports")
    files = {}
    for name in ("foyer_sculpture", "school_pendulum", "balance", "hostile"):
        files[name] = folder / f"{name}.html"
        files[name].write_text(page_of(name, extra=True), encoding="utf-8")
    return files
