"""The static-setting sheet: the distributor's body from above, which way to turn it, and the steps."""

from __future__ import annotations

from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, line, number, path, words
from sparkwright.drawing.true_scale import PairsPart, Sheet, TextsPart, picture_part
from sparkwright.ignition.rotor import Rotation
from sparkwright.mounting.static_setting import StaticSetting
from sparkwright.pictures.cap import Centre
from sparkwright.pictures.numbers import in_units_of
from sparkwright.units import System, show
from sparkwright.words.parts import in_own_units, own_unit
from sparkwright.words.static_setting import CAUTIONS, side_words, steps
from sparkwright.words.told import sentences, told

_USUAL_DRAWN_MM = 70.0  # how large the body is drawn where nobody measured it; the note says so
_ROOM_MM = 13.0


def body_picture(setting: StaticSetting, system: System = "metric") -> Picture:
    """Draw the body from above, with the arrows of rotation, earlier and later.

    Parameters
    ----------
    setting : StaticSetting
        How the distributor is set.
    system : System, optional
        Units that the person reads.
    """
    measured = setting.housing_diameter_mm
    radius_mm = (measured or _USUAL_DRAWN_MM) / 2
    side_px = 2 * (radius_mm + _ROOM_MM) * PX_PER_MM
    centre = Centre(side_px / 2, side_px / 2)
    drawn = element("circle", cx=centre.x, cy=centre.y, r=radius_mm * PX_PER_MM, class_="edge")
    drawn += _rotor(setting, radius_mm, centre)
    drawn += _arrow(setting.earlier_way, radius_mm + 5.0, centre, "earlier", "accent")
    drawn += _arrow(setting.later_way, radius_mm + 5.0, centre, "later", "soft")
    scale = (
        f"true scale, {show(measured, 'length', system)} across" if measured else "not to scale: not measured"
    )
    columns, rows = in_units_of(
        system,
        ("body turned [crank deg]", "at its rim [mm]"),
        [(float(deg), _rim(setting, deg)) for deg in (1, 2, 5, 10)],
    )
    return Picture(
        name="static-setting",
        title="The distributor's body from above",
        description=f"Rotor turns {setting.rotation}; turning the body {setting.earlier_way} makes the spark "
        f"earlier. {scale}.",
        sentence=f"From above, {scale}. Post 1 at the top, the tip as it stands at base.",
        columns=columns,
        rows=rows,
        width_px=side_px,
        height_px=side_px - (_ROOM_MM - 4.0) * PX_PER_MM,
        body=drawn,
        in_mm=True,
    )


def _rim(setting: StaticSetting, crank_deg: int) -> float | None:
    return None if setting.mm_per_crank_deg is None else crank_deg * setting.mm_per_crank_deg


def _rotor(setting: StaticSetting, radius_mm: float, centre: Centre) -> str:
    ahead = setting.tip_ahead_distributor_deg
    bearing = ahead if setting.rotation == "clockwise" else -ahead
    post = path([centre.at(radius_mm, 0.0), centre.at(0.86 * radius_mm, 0.0)], "edge")
    one = words(*centre.at(radius_mm + 3.0, 0.0), "1", "strong", "middle")
    arm = line(centre.x, centre.y, *centre.at(0.82 * radius_mm, bearing), "mark")
    hub = element("circle", cx=centre.x, cy=centre.y, r=6.0, class_="solid")
    return post + one + arm + hub + _turning(setting.rotation, 0.5 * radius_mm, centre)


def _turning(rotation: Rotation, radius_mm: float, centre: Centre) -> str:
    way = 1.0 if rotation == "clockwise" else -1.0
    drawn = _bent(radius_mm, 180.0 - way * 40.0, way * 80.0, centre, "edge")
    x, y = centre.at(radius_mm, 180.0)
    return drawn + words(x, y + 20, "rotor turns", "soft", "middle")


def _arrow(way_round: Rotation, radius_mm: float, centre: Centre, text: str, class_: str) -> str:
    """Draw a bent arrow outside the body, on its own side, with its word."""
    way = 1.0 if way_round == "clockwise" else -1.0
    drawn = _bent(radius_mm, way * 35.0, way * 40.0, centre, "mark" if class_ == "accent" else "thin")
    x, y = centre.at(radius_mm + 3.0, way * 35.0)
    return drawn + words(x, y - 8, text, class_, "start" if way > 0.0 else "end")


def _bent(radius_mm: float, start: float, turn: float, centre: Centre, class_: str) -> str:
    way = 1.0 if turn > 0.0 else -1.0
    stop = start + turn
    x, y = centre.at(radius_mm, start)
    shaft = f"M{number(x)} {number(y)}{centre.arc(radius_mm, start, stop)}"
    wide = 3.0 / radius_mm * 57.3
    head = [
        centre.at(radius_mm - 1.3, stop - 0.1 * way),
        centre.at(radius_mm, stop + way * wide),
        centre.at(radius_mm + 1.3, stop - 0.1 * way),
    ]
    return element("path", d=shaft, class_=class_) + path(head, "solid", closed=True)


def static_sheet(
    setting: StaticSetting, title: str, invented: bool, fingerprint: str, system: System = "metric"
) -> Sheet:
    """Lay the static-setting sheet out.

    Parameters
    ----------
    setting : StaticSetting
        How the distributor is set.
    title : str
        Name of the job.
    invented : bool
        Whether the job is invented; the sheet then says so.
    fingerprint : str
        Fingerprint of the job; "" leaves it out.
    system : System, optional
        Units that the person reads.
    """
    lead = told(setting.headline, system)
    return Sheet(
        kind="Static setting",
        title=title,
        invented=invented,
        headline=str(lead.sentence),
        action=str(lead.action),
        problems=tuple(map(str, sentences(setting.warnings, system))),
        rows=(
            (
                picture_part(body_picture(setting, system)),
                PairsPart("Set", _pairs(setting, system), label_mm=32.0),
            ),
            (TextsPart("Setting it", steps(setting), "steps"),),
            (TextsPart("Cautions", CAUTIONS, "cautions"),),
        ),
        fingerprint=fingerprint,
    )


def _pairs(setting: StaticSetting, system: System) -> tuple[tuple[str, str], ...]:
    proved = setting.mark_error_deg is not None
    error = _short(setting.mark_error_deg or 0.0) if proved else "not determined"
    seen = "not read" if setting.seen_deg is None else _short(setting.seen_deg)
    per_degree = setting.mm_per_crank_deg
    return (
        ("Base", _short(setting.base_deg)),
        ("Mark at true top", f"shows {error}" if proved else error),
        ("Balancer must show", _short(setting.shown_deg)),
        ("Light shows now", seen),
        ("Rotor turns", setting.rotation),
        ("Body for earlier", setting.earlier_way),
        ("Body for later", setting.later_way),
        ("Housing", show(setting.housing_diameter_mm, "length", system)),
        ("At its rim", "not determined" if per_degree is None else _per_degree(per_degree, system)),
    )


def _per_degree(per_degree_mm: float, system: System) -> str:
    unit = own_unit("length", system)
    return (
        f"{in_own_units(per_degree_mm, 'length', system):.{3 if system == 'metric' else 4}f} {unit}/crank deg"
    )


def _short(advance_deg: float) -> str:
    return side_words(advance_deg).removesuffix(" top dead centre")
