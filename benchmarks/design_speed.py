"""Prints how long the main job takes against what its libraries take to load, from one run.

Times on a shared machine wander, so the cold starts are interleaved and their medians compared.
"""

import argparse
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

from circuits.design_file import read_design
from circuits.pipeline import compute

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))

LIBRARIES = "import numpy, scipy.integrate, pint"
MEMORY = (
    "import sys, os; from circuits.command import main; sys.stdout = open(os.devnull, 'w');"
    "main(['design', sys.argv[1]]); import resource;"
    "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
)


def cold(*arguments: str) -> float:
    # Byte code is kept, as it is for whoever has installed the tool.
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT, stdout=subprocess.DEVNULL, check=False, env=environment,
    )  # fmt: skip
    return time.perf_counter() - start


def print_cold(repeats: int) -> None:
    command = ("-m", "circuits.command")
    calls = {
        "libraries": ("-c", LIBRARIES),
        "bare interpreter": ("-c", "pass"),
        "--version": (*command, "--version"),
        **{path.stem: (*command, "design", str(path)) for path in EXAMPLES},
    }
    times: dict[str, list[float]] = {name: [] for name in calls}
    for arguments in calls.values():
        cold(*arguments)
    for _ in range(repeats):
        for name, arguments in calls.items():
            times[name].append(cold(*arguments))
    libraries = statistics.median(times["libraries"])
    print(f"cold start, median of {repeats}; the libraries alone take {1000 * libraries:.0f} ms")
    for name, taken in times.items():
        median = statistics.median(taken)
        print(f"  {name:<24} {1000 * median:6.0f} ms  {median / libraries:5.2f} of the libraries")


def print_warm(repeats: int) -> None:
    print(f"warm sheet, median of {repeats}")
    for path in EXAMPLES:
        design = read_design(path)
        for remedies, words in ((False, "one pass"), (True, "with remedies")):
            taken = []
            for _ in range(repeats):
                start = time.perf_counter()
                sheet = compute(design, remedies=remedies)
                taken.append(time.perf_counter() - start)
            plane = design.movement.plane or "arc"
            fails = sum(finding.severity.value == "fails" for finding in sheet.findings)
            print(
                f"  {path.stem:<24} {1000 * statistics.median(taken):6.1f} ms  {words}, "
                f"{plane} path, {fails} failing"
            )


def print_memory() -> None:
    print("peak memory of design")
    for path in EXAMPLES:
        child = subprocess.run(
            [sys.executable, "-c", MEMORY, str(path)],
            cwd=ROOT, capture_output=True, text=True, check=False,
        )  # fmt: skip
        last = child.stderr.strip().splitlines()[-1:]
        unit = 1024**2 if sys.platform == "darwin" else 1024
        figure = f"{int(last[0]) / unit:.0f} MB" if last and last[0].isdigit() else "not known here"
        print(f"  {path.stem:<24} {figure}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=9)
    repeats = parser.parse_args().repeats
    print_cold(repeats)
    print_warm(repeats)
    print_memory()


if __name__ == "__main__":
    main()
