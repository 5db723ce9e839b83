"""Take the pictures in docs/pictures that `make demo` draws, its sheets turned into pictures by pdftoppm."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEMO, PICTURES = ROOT / "demo-out", ROOT / "docs" / "pictures"

DRAWN = {
    "cap": "pictures/cap.png",
    "full-load": "pictures/full-load.png",
    "hook": "pictures/hook-3000-85.png",
    "map-phased": "pictures-phased/map.png",
}
"""What the demo draws, by its name in the docs."""
SHEETS = {
    "cap-plan": "day/cap-plan.pdf",
    "card": "card.pdf",
    "rotor-phasing": "day/rotor-phasing.pdf",
    "timing-tape": "day/timing-tape.pdf",
}
"""What it prints; the first page is shown."""
DPI = 76


def main() -> None:
    """Copy the drawings, and draw the first page of each sheet."""
    for name, source in DRAWN.items():
        shutil.copyfile(DEMO / source, PICTURES / f"{name}.png")
    for name, source in SHEETS.items():
        files = str(DEMO / source), str(PICTURES / name)
        page = ["pdftoppm", "-png", "-singlefile", "-r", str(DPI), *files]
        subprocess.run(page, check=True)


if __name__ == "__main__":
    main()
