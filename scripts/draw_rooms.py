"""Draw which room imports which, from the code's own imports, and write `docs/pictures/rooms.svg`.

Run ``.venv/bin/python scripts/draw_rooms.py`` after a room was added or an import moved. Rooms
stand in the layers of the import contract in `pyproject.toml`; an arrow says that the upper room imports from
the lower one. Where a room reaches another by a way of several arrows too, the straight one is left out.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from html import escape
from pathlib import Path

import grimp

from sparkwright.drawing.look import TOKENS
from sparkwright.drawing.svg import text_width_px

ROOT = Path(__file__).parent.parent
PICTURE = ROOT / "docs" / "pictures" / "rooms.svg"
PACKAGE = "sparkwright"
WIDTH_PX, ROW_PX, BOX_PX, TEXT_PX = 760.0, 58.0, 28.0, 15.0
Arrows = dict[str, set[str]]


@dataclass(frozen=True)
class Box:
    """Where a room stands."""

    middle_px: float
    top_px: float
    width_px: float


def layers() -> list[list[str]]:
    """Give the rooms of each layer of the import contract, from the faces down."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    (layered,) = [each for each in contracts["contracts"] if each["type"] == "layers"]
    return [
        [room.strip().removeprefix(f"{PACKAGE}.") for room in row.split("|")] for row in layered["layers"]
    ]


def imports() -> Arrows:
    """Give the rooms from which each room imports."""
    graph = grimp.build_graph(PACKAGE)
    found: Arrows = {}
    for module in graph.modules:
        for imported in graph.find_modules_directly_imported_by(module):
            one, other = (_room(name) for name in (module, imported))
            if one and other and one != other:
                found.setdefault(one, set()).add(other)
    return found


def _room(module: str) -> str:
    return module.removeprefix(PACKAGE).removeprefix(".").partition(".")[0]


def without_detours(arrows: Arrows) -> Arrows:
    """Leave out an arrow where others lead there too."""

    def reached(room: str) -> set[str]:
        below = arrows.get(room, set())
        return below.union(*(reached(each) for each in below))

    return {
        room: {each for each in below if not any(each in reached(other) for other in below - {each})}
        for room, below in arrows.items()
    }


def picture() -> str:
    """Draw the rooms and their arrows as SVG."""
    rows = layers()
    boxes = {room: box for number, row in enumerate(rows) for room, box in _row(row, number).items()}
    arrows = without_detours(imports())
    height = ROW_PX * len(rows) + 20.0
    lines = [
        _arrow(boxes[one], boxes[other])
        for one in sorted(arrows)
        for other in sorted(arrows[one])
        if one in boxes and other in boxes
    ]
    ink, paper, soft = (TOKENS["light"][each] for each in ("ink", "paper", "soft"))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH_PX:g} {height:g}" role="img" '
        f'aria-label="Rooms of the program; arrows point to what a room imports from">\n'
        f"<style>text {{ font: {TEXT_PX:g}px sans-serif; fill: {ink}; text-anchor: middle }} "
        f"rect {{ fill: {paper}; stroke: {ink} }} path {{ fill: none; stroke: {soft} }} "
        f"#tip path {{ fill: {soft} }}</style>\n"
        '<marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7" orient="auto">'
        '<path d="M0 1L7 4L0 7Z"/></marker>\n'
        f'<rect width="{WIDTH_PX:g}" height="{height:g}" stroke="none"/>\n'
    )
    drawn = [_box(room, box) for room, box in boxes.items()]
    return head + "\n".join([*lines, *drawn]) + "\n</svg>\n"


def _row(rooms: list[str], number: int) -> dict[str, Box]:
    step = WIDTH_PX / (len(rooms) + 1)
    top = 16.0 + ROW_PX * number
    return {
        room: Box(step * place, top, text_width_px(room, TEXT_PX) + 24.0)
        for place, room in enumerate(rooms, start=1)
    }


def _box(room: str, box: Box) -> str:
    left = box.middle_px - box.width_px / 2.0
    return (
        f'<rect x="{left:.1f}" y="{box.top_px:g}" width="{box.width_px:.1f}" height="{BOX_PX:g}" rx="4"/>'
        f'<text x="{box.middle_px:.1f}" y="{box.top_px + 19:g}">{escape(room)}</text>'
    )


def _arrow(one: Box, other: Box) -> str:
    """Bend the arrow aside where it passes other rows, the further the more of them."""
    start, end = one.top_px + BOX_PX, other.top_px - 1.0
    rows = (other.top_px - one.top_px) / ROW_PX
    aside = (
        0.0 if rows <= 1.0 else 36.0 * rows * (1.0 if one.middle_px + other.middle_px >= WIDTH_PX else -1.0)
    )
    bend_px = (one.middle_px + other.middle_px) / 2.0 + aside
    points = f"{bend_px:.1f} {(start + end) / 2.0:.1f} {other.middle_px:.1f} {end:g}"
    return f'<path d="M{one.middle_px:.1f} {start:g}Q{points}" marker-end="url(#tip)"/>'


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
    print(f"{PICTURE} written")
