"""The whole report as one page that needs nothing beside itself."""

from collections.abc import Iterable

from circuits.report.figure import Picture, figure
from circuits.report.markup import Markup, join, tag, text
from circuits.report.style import style
from circuits.sheet import Sheet


def section(name: str, title: str, *content: "str | None") -> Markup:
    """Return a part of the page under its heading."""
    return tag(
        "section", tag("h2", title, id=f"{name}-heading"), *content, id=name,
        aria_labelledby=f"{name}-heading",
    )  # fmt: skip


def figures(pictures: Iterable[Picture | None]) -> Markup:
    """Return those pictures that there are."""
    return join(*(figure(picture) for picture in pictures if picture is not None))


def contents(sections: Iterable[tuple[str, str]]) -> Markup:
    """Return the list of the parts of the page."""
    rows = [tag("li", tag("a", title, href=f"#{name}")) for name, title in sections]
    return tag("nav", tag("ul", *rows), aria_label="Parts of this report")


def page(sheet: Sheet, note: str | None, parts: list[tuple[str, str, Markup]]) -> str:
    """Return the document.

    Parameters
    ----------
    sheet : Sheet
        The sheet that is reported.
    note : str or None
        The design's note.
    parts : list of (name, title, content)
        The parts of the page in their order.

    Returns
    -------
    html : str
    """
    title = f"{sheet.title}: design report"
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="generator", content=f"coilwright {sheet.version}"),
        tag("title", title),
        tag("style", style()),
    )
    body = tag(
        "body",
        tag("a", "Skip to the answers", href=f"#{parts[0][0]}", class_="skip"),
        tag(
            "header",
            tag("h1", sheet.title),
            tag("p", note, class_="lead") if note else None,
            contents((name, title) for name, title, _ in parts),
        ),
        tag("main", *(section(name, title, content) for name, title, content in parts)),
        tag("footer", tag("p", f"Computed by coilwright {sheet.version} from the design file.")),
    )
    return "<!DOCTYPE html>\n" + tag("html", head, "\n", body, lang="en") + "\n"


__all__ = ["figures", "page", "section", "text"]
