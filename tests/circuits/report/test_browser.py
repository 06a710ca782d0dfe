"""The page in a real browser: quiet, whole, usable by keyboard and screen reader, printable."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.circuits.report.drawn_lines import (
    assert_bars_are_true,
    assert_gap_is_true,
    pages_of,
)
from tests.circuits.report.reports import EXAMPLES, EXTRA, HEADINGS, whole

WIDTHS = (360, 800, 1400)
PAPERS = ("A4", "Letter")
NAMES = [*EXAMPLES, "hostile"]

SIZES = """[...document.querySelectorAll('figure svg')].map(s => {
    const r = s.getBoundingClientRect(); return [r.width, r.height] })"""
OUTSIDE = """[...document.querySelectorAll('main *')].filter(e =>
    !e.closest('.drawing,.scroll,.template') && e.getBoundingClientRect().right > innerWidth + 1
    ).map(e => e.outerHTML.slice(0, 80))"""
"""What is wider than the page must scroll within its own box, and only there."""
LETTERS_CROSSED = """[...document.querySelectorAll('figure svg')].flatMap(s => {
    const boxes = [...s.querySelectorAll('text')].map(t => [t.textContent,
        t.getBoundingClientRect()]);
    return boxes.flatMap(([one, a], k) => boxes.slice(k + 1).filter(([other, b]) =>
        Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1.5 &&
        Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 3.5
    ).map(([other, b]) => one + ' / ' + other)) })"""
"""Boxes of letters reach above and below them: 3.5 pixels in common are air."""
LETTERS_LOST = """[...document.querySelectorAll('figure svg')].flatMap(s => {
    const a = s.getBoundingClientRect();
    return [...s.querySelectorAll('text')].filter(t => {
        const b = t.getBoundingClientRect();
        return b.left < a.left - 1 || b.right > a.right + 1 || b.top < a.top - 1
            || b.bottom > a.bottom + 1 }).map(t => t.textContent) })"""


def opened(browser: Browser, file: Path, *, width: int = 1000, scheme: str = "light") -> Page:
    page = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
    page.goto(file.as_uri())
    return page


@pytest.mark.parametrize("name", NAMES)
def test_the_page_opens_from_disk_without_a_word_on_the_console(
    browser: Browser, on_disk: dict[str, Path], name: str
) -> None:
    said: list[str] = []
    asked: list[str] = []
    page = browser.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(on_disk[name].as_uri())
    assert said == []
    assert asked == [on_disk[name].as_uri()]
    assert page.evaluate("window.hit") is None
    assert page.title() == f"{whole(name)[1].title}: design report"
    page.close()


@pytest.mark.parametrize("name", NAMES)
def test_nothing_overflows_and_every_picture_shows_with_all_its_letters(
    browser: Browser, on_disk: dict[str, Path], name: str
) -> None:
    page = opened(browser, on_disk[name])
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        sizes = page.evaluate(SIZES)
        assert len(sizes) >= 11
        assert all(wide > 30 and tall > 15 for wide, tall in sizes)
        assert page.evaluate(OUTSIDE) == []
        assert page.evaluate(LETTERS_LOST) == []
    assert page.evaluate(LETTERS_CROSSED) == []
    page.close()


@pytest.mark.parametrize(
    ("name", "scheme"), [("foyer_sculpture", "light"), ("school_pendulum", "dark")]
)
def test_axe_finds_nothing(
    browser: Browser, on_disk: dict[str, Path], name: str, scheme: str
) -> None:
    page = opened(browser, on_disk[name], scheme=scheme)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    found = Axe().run(page).response["violations"]
    assert [(one["id"], [node["html"][:120] for node in one["nodes"]][:3]) for one in found] == []
    page.close()


def test_the_keyboard_reaches_the_answers_first_and_opens_what_is_folded(
    browser: Browser, on_disk: dict[str, Path]
) -> None:
    page = opened(browser, on_disk["foyer_sculpture"])
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    page.keyboard.press("Enter")
    page.wait_for_function("location.hash === '#answers'")
    page.evaluate("document.querySelector('summary').focus()")
    page.keyboard.press("Enter")
    assert page.evaluate("document.querySelector('details').open")
    page.close()


@pytest.mark.parametrize("paper", PAPERS)
def test_print_has_every_part_and_its_templates_measure_true(
    browser: Browser, on_disk: dict[str, Path], paper: str
) -> None:
    page = opened(browser, on_disk["foyer_sculpture"])
    pages = pages_of(page.pdf(format=paper))
    page.close()
    text = " ".join(one.text for one in pages)
    _, sheet, done = whole("foyer_sculpture")
    for heading in (*HEADINGS, *EXTRA):
        assert heading in text
    for finding in sheet.findings:
        if finding.severity.value != "good":
            assert finding.id in text
    for part in sheet.parts:
        assert part.role in text
    assert_bars_are_true(pages)
    assert_gap_is_true(pages, 1e3 * done.result("linkage").gap)
