"""Prints how long reading a capture takes beside bare pandas, and how much memory it needs.

Times on a shared machine wander, so the two take turns and their medians are compared.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
import pandas as pd

from circuits.captures.reading import read_capture

PEAK = """
import re, sys
import pandas
from circuits.captures.reading import read_capture

def most():
    with open("/proc/self/status") as stream:
        return 1024 * int(re.search(r"VmHWM:\\s+([0-9]+)", stream.read())[1])

before = most()
read_capture(sys.argv[1])
print(most() - before)
"""
"""Linux only: elsewhere, and in getrusage, a child inherits its parent's peak."""


def captures(rows: int) -> dict[str, tuple[Iterable[str], dict[str, object]]]:
    rng = np.random.default_rng(1)
    times = -0.1 + 3.2e-6 * np.arange(rows)
    volts = rng.normal(size=rows)
    plain = (f"{t:.9e},{v:.9e}\n" for t, v in zip(times, volts, strict=True))
    commas = (f"{t:.9f};{v:.6f}\n".replace(".", ",") for t, v in zip(times, volts, strict=True))
    levels = (f"{i * 0.001:.3f},{i & 1},{i >> 1 & 1}\n" for i in range(rows))
    stamps = (f"2024-03-05 {i // 3600 % 24:02d}:{i // 60 % 60:02d}:{i % 60:02d}.{i % 1000:03d},"
              f"18.{i % 1000:03d}\n" for i in range(rows))  # fmt: skip
    return {
        "scientific, commas": (["Time (s),U (V)\n", *plain], {}),
        "decimal commas": (["Time (s);U (V)\n", *commas], {"sep": ";", "decimal": ","}),
        "logic levels": (["Time (s),A,B\n", *levels], {}),
        "dates and widths": (["Time,width (ms)\n", *stamps], {"parse_dates": ["Time"]}),
    }


def taken(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def peak(path: Path) -> str:
    if not Path("/proc/self/status").exists():
        return "not known here"
    child = subprocess.run(
        [sys.executable, "-c", PEAK, str(path)],
        cwd=Path(__file__).parents[1], capture_output=True, text=True, check=True,
    )  # fmt: skip
    return f"{int(child.stdout) / path.stat().st_size:4.2f} of the file"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--repeats", type=int, default=7)
    arguments = parser.parse_args()
    print(f"{arguments.rows} rows, median of {arguments.repeats}, {os.cpu_count()} processors")
    with tempfile.TemporaryDirectory() as folder:
        for name, (lines, options) in captures(arguments.rows).items():
            path = Path(folder) / "capture.csv"
            path.write_text("".join(lines), encoding="utf-8")
            bare, ours = [], []
            for _ in range(arguments.repeats):
                bare.append(taken(lambda o=options, p=path: pd.read_csv(p, **o)))
                ours.append(taken(lambda p=path: read_capture(p)))
            size = path.stat().st_size
            a, b = statistics.median(bare), statistics.median(ours)
            print(
                f"  {name:<20} {size / 1e6:5.1f} MB   bare {1000 * a:6.0f} ms   "
                f"capture {1000 * b:6.0f} ms   ratio {b / a:4.2f}   "
                f"memory {peak(path)}"
            )


if __name__ == "__main__":
    main()
