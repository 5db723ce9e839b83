"""Where a test of the desk is done: the parts of an ignition as boxes, those of the test marked."""

from __future__ import annotations

from collections.abc import Collection

from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, line, words

COLUMN_PX, ROW_PX = 112.0, 58.0
BOX_PX = (98.0, 34.0)
EDGE_PX = 6.0

PLACES = {
    "battery": (0, 0),
    "feed": (1, 0),
    "coil": (2, 0),
    "coil-lead": (3, 0),
    "earth": (0, 1),
    "controller": (1, 1),
    "driver": (2, 1),
    "cap": (3, 1),
    "hose": (0, 2),
    "pickup": (1, 2),
    "distributor": (2, 2),
    "rotor": (3, 2),
    "inlet": (0, 3),
    "balancer": (1, 3),
    "tank": (2, 3),
    "plug-leads": (3, 3),
    "plugs": (3, 4),
}
"""Column and row of each part."""
TIES = (
    ("battery", "feed"),
    ("feed", "coil"),
    ("coil", "coil-lead"),
    ("coil-lead", "cap"),
    ("cap", "rotor"),
    ("rotor", "plug-leads"),
    ("plug-leads", "plugs"),
    ("coil", "driver"),
    ("controller", "driver"),
    ("pickup", "controller"),
    ("pickup", "distributor"),
    ("distributor", "rotor"),
    ("battery", "earth"),
    ("hose", "inlet"),
)
"""What belongs together; it is no wiring diagram."""


def parts_picture(marked: Collection[str], name: str = "parts", about: str = "the test") -> Picture:
    """Draw the parts of an ignition and mark some of them.

    Parameters
    ----------
    marked : collection of str
        Parts to mark; one that isn't drawn is named in the table alone.
    name : str
        Short name of the picture, used for files.
    about : str
        What the marks are of.
    """
    drawn = "".join(
        line(*_middle(one), *_middle(other), "edge" if {one, other} <= set(marked) else "thin")
        for one, other in TIES
    )
    drawn += "".join(_box(part, part in marked) for part in PLACES)
    columns, rows = (1 + max(place[axis] for place in PLACES.values()) for axis in (0, 1))
    names = ", ".join(part.replace("-", " ") for part in marked) or "none"
    return Picture(
        name=name,
        title=f"Where it is done: {names}",
        description=f"The parts of an ignition as boxes; marked for {about}: {names}.",
        sentence="Marked with a thick edge: where to work. It shows what belongs together, not the wiring.",
        columns=("part", "marked"),
        rows=tuple((part, "yes" if part in marked else "") for part in (*PLACES, *_others(marked))),
        width_px=columns * COLUMN_PX,
        height_px=(rows - 1) * ROW_PX + BOX_PX[1] + 2 * EDGE_PX,
        body=drawn,
    )


def _others(marked: Collection[str]) -> list[str]:
    return [part for part in marked if part not in PLACES]


def _middle(part: str) -> tuple[float, float]:
    column, row = PLACES[part]
    return (column + 0.5) * COLUMN_PX, row * ROW_PX + EDGE_PX + BOX_PX[1] / 2


def _box(part: str, is_marked: bool) -> str:
    x, y = _middle(part)
    box = {"x": x - BOX_PX[0] / 2, "y": y - BOX_PX[1] / 2, "width": BOX_PX[0], "height": BOX_PX[1], "rx": 6}
    back = element("rect", **box, class_="background")
    edge = element("rect", **box, fill="none", class_="plan" if is_marked else "thin")
    label = words(x, y + 5, part.replace("-", " "), "strong" if is_marked else "soft", "middle")
    return back + edge + label
