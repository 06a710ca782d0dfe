"""Draws the README's pictures from the examples: `python -m examples.pictures`."""

import sys
from pathlib import Path

from circuits.design_file import read_design
from circuits.pipeline import compute_whole
from circuits.report.gallery import gallery
from circuits.report.standalone import standalone

HERE = Path(__file__).parent
SHOWN = {
    "foyer_sculpture": ("circuit", "section", "one-beat", "arc-map", "rate-map", "life"),
    "school_pendulum": ("circuit", "oscilloscope"),
    "balance": ("circuit", "one-beat"),
}
"""Which pictures of which example the README may show."""


def draw(folder: Path) -> list[Path]:
    """Write the pictures into a folder and return their files."""
    folder.mkdir(exist_ok=True)
    written = []
    for example, names in SHOWN.items():
        sheet, done = compute_whole(read_design(HERE / f"{example}.toml"))
        for picture in gallery(sheet, done).every:
            if picture.name in names:
                file = folder / f"{example}_{picture.name.replace('-', '_')}.svg"
                file.write_text(standalone(picture), encoding="utf-8", newline="\n")
                written.append(file)
    return written


if __name__ == "__main__":
    for path in draw(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures"):
        print(path.name)
