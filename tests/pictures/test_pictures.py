"""The pictures: what they must show, at true scale where they say so, in every theme and width."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
import subprocess
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
import typst

from invented_results import invented_hook, invented_plan, with_other_cells
from sparkwright.check.hardware import check_hardware
from sparkwright.check.result import HardwareResult
from sparkwright.drawing.look import THEMES
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import text_width_px
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.ignition.rotor import RotorCap
from sparkwright.job import Job
from sparkwright.notebook import DRAWINGS, enable
from sparkwright.pictures.cap import cap_picture
from sparkwright.pictures.dwell import dwell_picture
from sparkwright.pictures.gallery import pictures, save_pictures
from sparkwright.pictures.hook import hook_picture
from sparkwright.pictures.map_grid import map_grid_picture
from sparkwright.pictures.map_picture import map_picture
from sparkwright.pictures.ribbon import ribbon_picture
from sparkwright.plan.result import HELD_BY
from sparkwright.words.map import HELD_WORDS, LETTER_FORMS

SVG = "{http://www.w3.org/2000/svg}"
EXAMPLES = Path(__file__).parents[2] / "examples"


def _hardware(name: str = "pump-house-v8") -> HardwareResult:
    return check_hardware(Job.load(EXAMPLES / f"{name}.toml"))


@pytest.fixture(scope="module")
def hardware() -> HardwareResult:
    return _hardware()


@pytest.fixture(scope="module", params=[720.0, 360.0])
def drawn(request: pytest.FixtureRequest, hardware: HardwareResult) -> tuple[Picture, ...]:
    return pictures(invented_plan(), hardware, [invented_hook(), invented_hook(np.nan)], request.param)


def _texts(picture: Picture) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(picture.svg("light")).iter(f"{SVG}text"))


def test_every_picture_is_well_formed_in_every_theme(drawn: tuple[Picture, ...]) -> None:
    assert len(drawn) == 9
    for picture in drawn:
        for theme in THEMES:
            root = ElementTree.fromstring(picture.svg(theme))
            assert root.findtext(f"{SVG}title")
            assert len(root.findtext(f"{SVG}desc") or "") > 40
        assert picture.sentence.endswith(".")
        assert "nan" not in picture.svg("light")


def test_every_picture_has_a_table_of_its_numbers(drawn: tuple[Picture, ...]) -> None:
    for picture in drawn:
        rows = list(csv.reader(io.StringIO(picture.csv())))
        assert len(rows) == len(picture.rows) + 1 > 2
        assert all(len(row) == len(picture.columns) for row in rows)


def test_no_text_is_smaller_than_stated_or_cut_off(drawn: tuple[Picture, ...]) -> None:
    for picture in drawn:
        svg = picture.svg("light")
        assert "font-size: 15px" in svg
        assert svg.count("font-size") == 1
        for text in _texts(picture):
            if text.get("transform") is not None:
                continue
            width, x = text_width_px(text.text or ""), float(text.get("x") or "nan")
            left = {"start": x, "middle": x - width / 2, "end": x - width}[text.get("text-anchor") or ""]
            # The estimate of a width is on the wide side, by about a tenth.
            assert left > -0.1 * width - 1, (picture.name, text.text)
            assert left + width < picture.width_px + 0.15 * width + 1, (picture.name, text.text)


def test_texts_do_not_overlap(drawn: tuple[Picture, ...]) -> None:
    for picture in drawn:
        boxes = []
        for text in _texts(picture):
            if text.get("transform") is not None or picture.name == "map-grid":
                continue
            width, x = 0.85 * text_width_px(text.text or ""), float(text.get("x") or "nan")
            left = {"start": x, "middle": x - width / 2, "end": x - width}[text.get("text-anchor") or ""]
            boxes.append((left, float(text.get("y") or "nan"), width, text.text))
        for k, (left, y, width, words) in enumerate(boxes):
            for other_left, other_y, other_width, other_words in boxes[:k]:
                apart = left >= other_left + other_width or other_left >= left + width
                assert apart or abs(y - other_y) > 11, (picture.name, words, other_words)


def test_map_names_what_holds_by_hatching_and_by_letter_form() -> None:
    plan = invented_plan(set_deg=38.0)
    svg = map_picture(plan).svg("paper")
    for kind in set(HELD_BY) - {"between", "rows"}:  # no cell of the invented plan is held by these
        assert f"{HELD_WORDS[kind]} ({LETTER_FORMS[kind]})" in svg
    for kind in ("knock", "reach", "reserve", "limit", "by hand"):
        name = f"map-{kind.replace(' ', '-')}"
        assert svg.count(f"url(#{name})") >= 2  # in the map and in its key
        assert f'id="{name}"' in svg
    assert "url(#map-best)" not in svg


def test_grid_sets_every_cell_in_the_form_of_what_holds_it() -> None:
    plan = invented_plan()
    root = ElementTree.fromstring(map_grid_picture(plan).svg("light", caption=False))
    cells = [text for text in root.iter(f"{SVG}text") if (text.get("class") or "").startswith("on-")]
    held = [kind for row in reversed(plan.cells.held_by) for kind in row]
    values = plan.cells.spark_map.advance_deg[::-1].ravel()
    assert [float(cell.text or "nan") for cell in cells] == values.tolist()
    assert ["strong" in (cell.get("class") or "") for cell in cells] == [kind == "knock" for kind in held]
    assert ["slanted" in (cell.get("class") or "") for cell in cells] == [kind == "reserve" for kind in held]
    bars = [rect for rect in root.iter(f"{SVG}rect") if rect.get("height") == "1.6"]
    assert len(bars) == held.count("reach") + held.count("limit")
    assert len(list(root.iter(f"{SVG}circle"))) == held.count("by hand")


def test_grid_shows_the_decimals_that_the_step_has() -> None:
    plan = invented_plan(reach_deg=33.5, step_deg=0.5)
    assert ">33.5<" in map_grid_picture(plan).svg()
    assert ">33.25<" in map_grid_picture(invented_plan(reach_deg=33.25, step_deg=0.25)).svg()
    assert ">33<" in map_grid_picture(invented_plan(reach_deg=33.0)).svg()


def test_map_held_by_one_thing_only_is_drawn() -> None:
    plan = invented_plan()
    held = tuple(tuple("reach" for _ in row) for row in plan.cells.held_by)
    level = dataclasses.replace(
        plan.cells.spark_map, advance_deg=np.full_like(plan.cells.spark_map.advance_deg, 20.0)
    )
    svg = map_picture(with_other_cells(plan, held_by=held, spark_map=level)).svg("light")
    assert ">reach<" in svg
    ElementTree.fromstring(svg)


def test_ribbon_labels_lines_at_their_ends_and_tells_them_apart_by_dash() -> None:
    picture = ribbon_picture(invented_plan().full_load)
    svg = picture.svg("light")
    for label in ("plan", "best", "knock", "reach 34\N{DEGREE SIGN}", "old curve"):
        assert f">{label}<" in svg
    dashes = dict(re.findall(r"\.(\w+) \{[^}]*stroke-dasharray: ([^;}]*[^;} ])", svg))
    assert len({dashes[name] for name in ("knock", "reach", "old")}) == 3
    assert "plan" not in dashes
    assert picture.rows[0][0] == 600.0


def test_ribbon_without_old_curve_or_knock_says_nothing_of_them() -> None:
    line = invented_plan().cruise
    svg = ribbon_picture(dataclasses.replace(line, knock_deg=np.full_like(line.rpm, np.nan))).svg("light")
    assert ">knock<" not in svg
    assert ">old curve<" not in svg
    assert "nan" not in svg


def test_hook_marks_best_plan_and_knock() -> None:
    picture = hook_picture(invented_hook(), 33.0)
    svg = picture.svg("light")
    for label in ("best 31.0", "plan 33.0", "knock 37.0"):
        assert f">{label}\N{DEGREE SIGN}<" in svg
    assert "25.0 to 37.0" in picture.sentence


def test_hook_says_when_the_span_or_knock_is_not_determined() -> None:
    hook = dataclasses.replace(invented_hook(np.nan), early99_deg=np.nan)
    picture = hook_picture(hook)
    assert "not determined" in picture.sentence
    assert "No knock within the tested advances." in picture.sentence
    assert ">knock " not in picture.svg("light", caption=False)


def test_dwell_shows_where_the_energy_is_not_reached() -> None:
    picture = dwell_picture(_hardware("old-four"))
    assert "not reached" in picture.svg("light")
    assert picture.sentence.endswith("Below 10.5 V it is not reached.")
    assert picture.csv().splitlines()[1] == "8,"


def test_dwell_is_refused_for_a_capacitive_driver(hardware: HardwareResult) -> None:
    with pytest.raises(Refusal, match=r"^driver.kind = capacitive: must be inductive for a dwell picture$"):
        dwell_picture(dataclasses.replace(hardware, dwell=None))


@pytest.mark.parametrize("name", ["pump-house-v8", "boosted-six", "old-four"])
def test_cap_is_drawn_in_millimetres(name: str) -> None:
    found = _hardware(name)
    picture = cap_picture(found, invented_plan())
    root = ElementTree.fromstring(picture.svg("paper"))
    width_mm = float((root.get("width") or "").removesuffix("mm"))
    view = [float(part) for part in (root.get("viewBox") or "").split()]
    mm_per_unit = width_mm / view[2]
    # Posts are drawn as rings' pieces: the radius of the arc that faces the rotor is the post's radius.
    radii = [float(r) * mm_per_unit for r in re.findall(r"A([\d.]+) ", picture.body)]
    for expected in (found.rotor.cap.post_radius_mm, found.rotor.cap.tip_radius_mm):
        assert min(abs(radius - expected) for radius in radii) < 0.005 * expected
    # Plane geometry: the corners of one post are as far apart as the post is wide.
    post = re.search(
        r'd="M([\d.]+) ([\d.]+)A[^L]*L([\d.]+) ([\d.]+)A([\d.]+) [^Z]*? ([\d.]+) ([\d.]+)Z" class="solid"',
        picture.body,
    )
    assert post is not None
    ends = [float(part) * mm_per_unit for part in post.groups()]
    across_mm = np.hypot(ends[2] - ends[5], ends[3] - ends[6])
    assert across_mm == pytest.approx(found.rotor.cap.post_width_mm, rel=0.005)


def test_cap_prints_at_true_scale(tmp_path: Path, hardware: HardwareResult) -> None:
    """The 20 mm bar of the printed cap, measured in a rendering by an independent program (poppler)."""
    svg = cap_picture(hardware, strip=False).svg("paper", caption=False)
    source = (
        b'#set page(width: 120mm, height: 140mm, margin: 0mm)\n#image(bytes(sys.inputs.svg), format: "svg")'
    )
    pdf = typst.compile(source, sys_inputs={"svg": svg}, pdf_tags=False)
    assert isinstance(pdf, bytes)
    (tmp_path / "cap.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", "600", "-gray", str(tmp_path / "cap.pdf"), str(tmp_path / "cap")], check=True
    )
    (image,) = tmp_path.glob("cap*.pgm")
    data = image.read_bytes()
    header = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", data)
    assert header is not None
    width, height = int(header[1]), int(header[2])
    grey = np.frombuffer(data[header.end() :], dtype=np.uint8).reshape(height, width)
    longest = max(_longest_dark_run(row) for row in grey < 128)
    bar_mm = (longest - 1.5 / 96 * 600) / 600 * 25.4  # less half a stroke of the end marks at each side
    assert bar_mm == pytest.approx(20.0, rel=0.005)


def _longest_dark_run(dark: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], dark.astype(int), [0]))))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def test_cap_mirrors_with_the_direction_of_rotation(hardware: HardwareResult) -> None:
    plain = cap_picture(hardware)
    mirrored = cap_picture(
        dataclasses.replace(hardware, rotor=dataclasses.replace(hardware.rotor, rotation="anticlockwise"))
    )
    assert "turning clockwise" in plain.description
    assert "turning anticlockwise" in mirrored.description
    assert plain.rows == mirrored.rows
    assert plain.body != mirrored.body


def test_cap_names_each_post_and_each_spark(hardware: HardwareResult) -> None:
    picture = cap_picture(hardware, invented_plan())
    shown = [text.text for text in _texts(picture)]
    assert [str(cylinder) for cylinder in hardware.cap_order.cylinders] == [
        text for text in shown if text is not None and text.isdigit()
    ]
    names = [row[0] for row in picture.rows]
    assert names == ["cranking", "base", "idle", "cruise", "most"]
    # Geometry of the example: 26 deg is as far as this tip reaches, so 34 and 38 are off the post.
    assert [row[3] for row in picture.rows] == ["yes", "yes", "yes", "no", "no"]


def test_cap_gap_follows_the_law_of_cosines(hardware: HardwareResult) -> None:
    cap = hardware.rotor.cap
    assert isinstance(cap, RotorCap)
    picture = cap_picture(hardware)
    most = picture.rows[-1]
    # Published check of such a gap: RC-4, 29.0 and 30.0 mm, 6 deg apart, 3.2453 mm (geometry).
    apart = abs(float(most[2] or 0)) - (cap.tip_distributor_deg + cap.post_distributor_deg) / 2
    by_hand = np.sqrt(
        cap.tip_radius_mm**2
        + cap.post_radius_mm**2
        - 2 * cap.tip_radius_mm * cap.post_radius_mm * np.cos(np.radians(apart))
    )
    assert most[4] == pytest.approx(by_hand, rel=1e-6)
    assert f"{by_hand:.1f} mm off" in picture.svg("light")


def test_save_pictures_writes_svg_png_and_csv(tmp_path: Path, hardware: HardwareResult) -> None:
    paths = save_pictures(tmp_path / "new", invented_plan(), hardware, [invented_hook()], ppi=48)
    assert {path.name for path in paths} == {
        f"{name}.{kind}"
        for name in ("map", "map-grid", "full-load", "cruise", "old-map", "cap", "dwell", "hook-3000-95")
        for kind in ("svg", "png", "csv")
    }
    assert all(path.stat().st_size > 100 for path in paths)


def test_notebook_draws_every_kind_of_result(hardware: HardwareResult) -> None:
    known: dict[type, object] = {}

    class Formatter:
        def for_type(self, typ: type, func: object) -> object:
            return known.setdefault(typ, func)

    enable(Formatter())
    assert known == DRAWINGS
    plan = invented_plan()
    for result in (plan, plan.cruise, invented_hook(), hardware):
        ElementTree.fromstring(DRAWINGS[type(result)](result))


def test_notebook_says_when_none_is_running() -> None:
    with pytest.raises(SparkwrightError, match=r"^no notebook is running here: call this inside one$"):
        enable()
