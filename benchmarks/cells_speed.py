"""Prints what the cells cost: their stage in a sheet, and the whole life followed closely."""

import statistics
import time
from collections.abc import Callable
from pathlib import Path

from circuits.catalogue import Catalogue
from circuits.cells_course import life_course
from circuits.cells_report import report
from circuits.design_file import read_design
from circuits.pipeline import run

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
REPEATS = 7


def milliseconds(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return 1000 * statistics.median(taken)


def told(path: Path) -> str | None:
    design = read_design(path)
    if design.supply.cell is None:
        return None
    catalogue = Catalogue(design.part, design.file)
    done = run(design, catalogue)
    free = milliseconds(lambda: life_course(design, steered=False, done=done))
    steered = milliseconds(lambda: life_course(design, steered=True, done=done))
    whole = milliseconds(lambda: report(design))
    sheet = milliseconds(lambda: run(design, catalogue))
    return (
        f"  {path.stem:<20} life {free:5.0f} ms, with a loop {steered:5.0f} ms, "
        f"every table {whole:5.0f} ms; one pass of the stages {sheet:4.0f} ms"
    )


def main() -> None:
    print(f"cells, median of {REPEATS}")
    for line in filter(None, map(told, EXAMPLES)):
        print(line)


if __name__ == "__main__":
    main()
