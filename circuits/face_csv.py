"""The parts list as comma-separated values (RFC 4180)."""

import csv
import io

from circuits.sheet import Sheet

COLUMNS = ("reference", "quantity", "part", "rating", "role")


def parts_csv(sheet: Sheet) -> str:
    """Return the parts list, one row a part, with a heading row."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(COLUMNS)
    for part in sheet.parts:
        rows.writerow((part.reference, part.quantity, part.part, part.rating, part.role))
    return text.getvalue()
