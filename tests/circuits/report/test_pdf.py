"""The report as PDF by WeasyPrint, and what is said where it is missing."""

import builtins
import sys
from pathlib import Path
from typing import Any

import pytest

from circuits.command import main
from circuits.report.errors import PrinterMissing
from circuits.report.pdf import pdf_of
from tests.circuits.report.drawn_lines import assert_bars_are_true, assert_gap_is_true, pages_of
from tests.circuits.report.reports import EXTRA, HEADINGS, ROOT, page_of, whole


@pytest.fixture
def weasyprint() -> None:
    try:
        pdf_of("<!DOCTYPE html><html lang='en'><title>one page</title><p>one page</p></html>")
    except PrinterMissing as error:
        pytest.skip(str(error))


@pytest.mark.usefixtures("weasyprint")
def test_the_pdf_has_every_part_and_its_templates_measure_true() -> None:
    pages = pages_of(pdf_of(page_of("balance", extra=True)))
    text = " ".join(one.text for one in pages)
    for heading in (*HEADINGS, *EXTRA):
        assert heading in text
    assert_bars_are_true(pages)
    assert_gap_is_true(pages, 1e3 * whole("balance")[2].result("linkage").gap)


@pytest.mark.usefixtures("weasyprint")
def test_the_same_page_gives_the_same_pdf() -> None:
    page = "<!DOCTYPE html><html lang='en'><title>t</title><p>the same</p></html>"
    assert pdf_of(page) == pdf_of(page)


@pytest.mark.usefixtures("weasyprint")
def test_a_page_that_asks_for_something_gets_nothing(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("should not be read")
    pages = pages_of(pdf_of(f"<p>here</p><object data='{secret.as_uri()}'></object>"))
    assert [page.text for page in pages] == ["here"]


def _without(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    real = builtins.__import__

    def refusing(name: str, *rest: Any, **more: Any) -> Any:
        if name == "weasyprint":
            raise error
        return real(name, *rest, **more)

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(builtins, "__import__", refusing)


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ImportError("no such module"), "found no WeasyPrint; install it with"),
        (OSError("cannot load library 'libpango'\nmore"), "'libpango'); install it with"),
    ],
)
def test_without_the_printer_nothing_is_written_and_words_say_why(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path,
    error: Exception, said: str,
) -> None:  # fmt: skip
    _without(monkeypatch, error)
    page, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    file = str(ROOT / "examples" / "balance.toml")
    assert main(["design", file, "--html", str(page), "--pdf", str(pdf)]) == 3
    assert list(tmp_path.iterdir()) == []
    shown = capsys.readouterr().err
    assert said in shown
    assert shown.startswith("coilwright: PDF: ")
    assert shown.count("\n") == 1


def test_files_that_exist_stay_unless_forced(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    page = tmp_path / "sheet.html"
    page.write_text("mine")
    file = str(ROOT / "examples" / "balance.toml")
    assert main(["design", file, "--html", str(page)]) == 2
    assert page.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert main(["design", file, "--html", str(page), "--force"]) in (0, 1)
    assert page.read_text(encoding="utf-8") == page_of("balance")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--templates"], "--templates without a report"),
        (["--keeper"], "--keeper without a report"),
        (["--html", "x.html", "--pdf", "x.html"], "as page and as PDF"),
        (["--html", "no/such/place/x.html"], "no/such/place/x.html"),
    ],
)
def test_a_wrong_call_gets_one_message(
    options: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["design", str(ROOT / "examples" / "balance.toml"), *options]) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.count("\n") == 1
