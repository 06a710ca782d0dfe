"""The report as PDF, through WeasyPrint."""

import logging
from typing import Any

from circuits.report.errors import PrinterMissing

INSTALL = (
    "install it with 'pip install coilwright[pdf]' and, where the system lacks it, Pango; or "
    "write the page with --html and print it from a browser"
)


class _Refusing:
    """Fetches nothing: the page needs nothing beside itself."""

    _fail_on_errors = False
    """WeasyPrint asks for it where a fetch has failed, and then goes on without."""

    def __call__(self, url: str, *_: Any, **__: Any) -> Any:
        raise ValueError(f"the report fetches nothing, not even {url}")


def pdf_of(page: str) -> bytes:
    """Return a page as PDF.

    Parameters
    ----------
    page : str
        The report as HTML.

    Returns
    -------
    pdf : bytes

    Raises
    ------
    PrinterMissing
        If WeasyPrint or one of its system libraries is not there.
    """
    try:
        from weasyprint import HTML  # noqa: PLC0415 - only a PDF pays for it
    except ImportError as error:
        raise PrinterMissing(f"PDF: found no WeasyPrint; {INSTALL}") from error
    except OSError as error:
        found = str(error).partition("\n")[0]
        raise PrinterMissing(
            f"PDF: WeasyPrint lacks a library of the system ({found}); {INSTALL}"
        ) from error
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    made: bytes = HTML(string=page, url_fetcher=_Refusing()).write_pdf()
    return made
