"""Printed sheets at true scale, measured in a rendering by an independent program (poppler) at 600 dpi."""

import re
import subprocess
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from pypdf import PdfReader

from invented_results import invented_plan
from planning_jobs import PUMP_HOUSE
from sparkwright import __version__
from sparkwright.check.hardware import check_hardware
from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.true_scale import MARGIN_MM, PAPER_MM, Paper, Sheet, known_paper, room_mm, sheet_pdf
from sparkwright.mounting.cap_plan import cap_plan
from sparkwright.mounting.phasing import rotor_phasing
from sparkwright.mounting.static_setting import static_setting
from sparkwright.mounting.tape import CrankRotation, degree_ring, tape
from sparkwright.sheets.cap_plan import cap_plan_sheet
from sparkwright.sheets.degree_ring import ring_pictures, ring_sheet
from sparkwright.sheets.phasing import phasing_sheet, tips_picture
from sparkwright.sheets.static_setting import static_sheet
from sparkwright.sheets.tape import tape_sheet

DPI = 600
MM = DPI / 25.4
TRUE_WITHIN = 0.002
Dark = NDArray[np.bool_]


def pages(pdf: bytes, folder: Path) -> list[Dark]:
    """Every page as an array of dark pixels."""
    (folder / "sheet.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", str(DPI), "-gray", str(folder / "sheet.pdf"), str(folder / "page")], check=True
    )
    found = []
    for image in sorted(folder.glob("page*.pgm")):
        data = image.read_bytes()
        header = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", data)
        assert header is not None
        grey = np.frombuffer(data[header.end() :], dtype=np.uint8)
        found.append(grey.reshape(int(header[2]), int(header[1])) < 128)
    return found


def middles_mm(row: Dark) -> NDArray[np.float64]:
    """Middles of the dark runs of one row or column of pixels."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
    middles: NDArray[np.float64] = (edges[::2] + edges[1::2]) / 2.0 / MM
    return middles


def at(value_mm: float) -> int:
    return round(value_mm * MM)


def control_lines_mm(page: Dark) -> tuple[float, float]:
    """Length of the control lines across and down, between the middles of their end marks."""
    height_mm, width_mm = (size / MM for size in page.shape)
    beside = middles_mm(page[at(height_mm - 20.0 - 1.4)])
    across = beside[(beside > MARGIN_MM["left"] - 1.0) & (beside < MARGIN_MM["left"] + 101.0)]
    down = middles_mm(page[:, at(width_mm - 10.0 - 1.4)])
    return float(across[-1] - across[0]), float(down[-1] - down[0])


def tape_sheet_pdf(paper: Paper, rotation: CrankRotation = "clockwise", before_deg: float = 60.0) -> bytes:
    strip = tape(183.896, before_deg, 20.0, rotation=rotation)
    return sheet_pdf(tape_sheet(strip, paper=paper), paper=paper)


def inside(page: Dark) -> Dark:
    """Leave the control line at the right edge out."""
    return page[:, : -at(MARGIN_MM["right"] - 2.0)]


def tops_of_tapes(page: Dark, least: int) -> list[int]:
    """First rows of tapes: at least so many dark runs, and the same number for 2 mm, as no text has."""
    counts = (np.diff(inside(page).astype(np.int8), axis=1) == 1).sum(axis=1)
    same = np.flatnonzero(np.diff(counts) != 0)
    return [
        int(start) + 1
        for start, stop in pairwise(same)
        if stop - start >= at(2.0) and counts[start + 1] >= least
    ]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
def test_the_tape_is_true_both_ways(paper: Paper, rotation: CrankRotation, tmp_path: Path) -> None:
    """7.24 in of rim and 0.1 mm of paper: 10 deg are pi (183.896 + 0.1)/36 = 16.0567 mm, by hand."""
    (page,) = pages(tape_sheet_pdf(paper, rotation), tmp_path)
    across_mm, down_mm = control_lines_mm(page)
    assert across_mm == pytest.approx(100.0, rel=TRUE_WITHIN)
    assert down_mm == pytest.approx(100.0, rel=TRUE_WITHIN)
    (top,) = tops_of_tapes(page, 81)
    tens_mm = middles_mm(inside(page)[top + at(0.5 * 12.0)])[
        1:-1
    ]  # only marks of ten are so long; less the frame
    assert len(tens_mm) == 9
    assert tens_mm[-1] - tens_mm[0] == pytest.approx(8 * 16.0567, rel=TRUE_WITHIN)
    assert np.diff(tens_mm) == pytest.approx(np.full(8, 16.0567), abs=0.05)  # a pixel is 0.042 mm
    edges_mm = middles_mm(page[top - at(1.0) : top + at(13.5), at(float(tens_mm[0]) - 3.0)])
    assert edges_mm[-1] - edges_mm[0] == pytest.approx(12.0, abs=0.05)


def test_zero_stands_right_of_the_marks_before_it_where_the_rim_turns_backwards(tmp_path: Path) -> None:
    """The zero line is the only one as long as the tape is wide; 60 deg before lie left or right of it."""
    for rotation, share in (("clockwise", 20.0 / 80.0), ("anticlockwise", 60.0 / 80.0)):
        (tmp_path / rotation).mkdir()
        (page,) = pages(tape_sheet_pdf("a4", rotation), tmp_path / rotation)  # type: ignore[arg-type]
        (top,) = tops_of_tapes(page, 81)
        tens_mm = middles_mm(inside(page)[top + at(6.0)])[1:-1]
        dark = page[top + at(1.0) : top + at(11.0)]
        long = [x for x in tens_mm if dark[:, at(float(x))].all()]
        assert len(long) == 1
        assert (long[0] - tens_mm[0]) / (tens_mm[-1] - tens_mm[0]) == pytest.approx(share, abs=0.01)


def test_pieces_keep_their_scale(tmp_path: Path) -> None:
    """A whole turn takes three pieces; within each, tens stay 16.06 mm apart."""
    strip = tape(183.896, 180.0, 180.0)
    found = pages(sheet_pdf(tape_sheet(strip)), tmp_path)
    page = found[0]
    starts = tops_of_tapes(page, 20)
    assert len(starts) == 3
    for start in starts:
        tens_mm = middles_mm(inside(page)[start + at(6.0)])
        apart = np.diff(tens_mm)
        inner = apart[np.abs(apart - 16.06) < 0.1]
        assert len(inner) >= 2
        assert inner.sum() == pytest.approx(len(inner) * 16.0567, abs=0.05)  # a pixel is 0.042 mm


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_ring_is_round_and_true(paper: Paper, tmp_path: Path) -> None:
    page = pages(sheet_pdf(ring_sheet(degree_ring(150.0, 40.0), paper=paper), paper=paper), tmp_path)[0]
    assert control_lines_mm(page) == pytest.approx((100.0, 100.0), rel=TRUE_WITHIN)
    drawn = inside(page)[at(40.0) : at(200.0)]
    rows = np.flatnonzero((np.diff(drawn.astype(np.int8), axis=1) == 1).sum(axis=1) > 0)
    widest = max(
        float(np.ptp(middles_mm(drawn[row])))
        for row in range(int(rows[0]), int(rows[-1]))
        if drawn[row].any()
    )
    assert widest == pytest.approx(150.0, rel=TRUE_WITHIN)
    tallest = max(
        float(np.ptp(middles_mm(drawn[:, column])))
        for column in range(at(MARGIN_MM["left"]), drawn.shape[1])
        if drawn[:, column].any()
    )
    assert tallest == pytest.approx(150.0, rel=TRUE_WITHIN)


def test_a_ring_larger_than_the_paper_takes_four_sheets() -> None:
    reader = PdfReader(BytesIO(sheet_pdf(ring_sheet(degree_ring(300.0, 100.0)))))
    assert len(reader.pages) == 4
    assert "row 2, column 2; cut along the dashed lines" in reader.pages[3].extract_text()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_ring_of_eight_inches_comes_in_halves_and_not_in_quarters(paper: Paper) -> None:
    """By hand: 203.2 mm fit into the height of either sheet below its head, and not into its width."""
    found = degree_ring(203.2, 50.8)
    assert [each.name for each in ring_pictures(found, paper)] == ["degree-ring-1-1", "degree-ring-1-2"]
    reader = PdfReader(BytesIO(sheet_pdf(ring_sheet(found, paper=paper), paper=paper)))
    texts = [page.extract_text() for page in reader.pages]
    assert "row 1, column 1" in texts[0]
    assert "row 1, column 2" in texts[1]


# The sheets of a job


def job_sheets() -> dict[str, Sheet]:
    hardware, plan = check_hardware(PUMP_HOUSE), invented_plan()
    named = (PUMP_HOUSE.name, PUMP_HOUSE.invented, PUMP_HOUSE.fingerprint)
    setting = static_setting(10.0, "clockwise", "two-wire", housing_diameter_mm=80.0)
    return {
        "cap": cap_plan_sheet(cap_plan(PUMP_HOUSE, hardware, plan), *named),
        "phasing": phasing_sheet(rotor_phasing(PUMP_HOUSE, hardware, plan), *named),
        "static": static_sheet(setting, *named),
    }


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["cap", "phasing", "static"])
def test_every_page_says_what_it_is(name: str, paper: Paper) -> None:
    reader = PdfReader(BytesIO(sheet_pdf(job_sheets()[name], paper=paper)))
    width_mm, height_mm = PAPER_MM[paper]
    for number, page in enumerate(reader.pages, start=1):
        text = " ".join(page.extract_text().split())
        assert f"page {number} of {len(reader.pages)}" in text
        assert f"Sparkwright {__version__}" in text
        assert f"job {PUMP_HOUSE.fingerprint[:12]}" in text
        assert "Measure both before you trust this sheet; print at 100 %, no fit to page." in text
        size_mm = [float(each) / 72 * 25.4 for each in (page.mediabox.width, page.mediabox.height)]
        assert size_mm == pytest.approx([width_mm, height_mm], abs=0.1)
    whole = " ".join(page.extract_text() for page in reader.pages)
    assert "(invented example)" in whole
    assert "Cautions" in whole


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_cap_is_as_large_as_the_real_one(paper: Paper, tmp_path: Path) -> None:
    """Posts of the example stand at a radius of 30 mm: faces 60 mm apart, across (4, 7) and down (1, 6)."""
    page = pages(sheet_pdf(job_sheets()["cap"], paper=paper), tmp_path)[0]
    assert control_lines_mm(page) == pytest.approx((100.0, 100.0), rel=TRUE_WITHIN)
    # The row through posts 4 and 7 holds two runs of 3 mm, the depth of a post, some 63 mm apart.
    for lines in (page, page.T):
        best = 0.0
        for line in lines[at(35.0) : at(140.0)]:
            edges = np.flatnonzero(np.diff(np.concatenate(([0], line.astype(int), [0])))) / MM
            runs = list(zip(edges[::2], edges[1::2], strict=True))
            posts = [run for run in runs if abs(run[1] - run[0] - 3.0) < 0.06]
            for one in posts:
                for other in posts:
                    if abs(other[0] - one[1] - 60.0) < 1.0:
                        best = max(best, float(other[0] - one[1]))
        assert best == pytest.approx(60.0, rel=TRUE_WITHIN)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_large_cap_keeps_to_the_page_and_clear_of_its_control_line(paper: Paper, tmp_path: Path) -> None:
    """Posts at 48 mm: two caps side by side would be some 240 mm wide."""
    large = PUMP_HOUSE.changed("distributor", tip_radius="47 mm", post_radius="48 mm")
    phasing = rotor_phasing(large, check_hardware(large), invented_plan())
    assert tips_picture(phasing).width_px / PX_PER_MM <= room_mm(paper)[0]
    page = pages(sheet_pdf(phasing_sheet(phasing, "x", True, "0" * 64), paper=paper), tmp_path)[0]
    assert control_lines_mm(page) == pytest.approx((100.0, 100.0), rel=TRUE_WITHIN)


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert sheet_pdf(job_sheets()["static"]) == sheet_pdf(job_sheets()["static"])


@pytest.mark.parametrize("name", ["cap", "phasing", "static", "tape", "ring"])
def test_no_letter_is_missing_from_our_own_type(name: str, tmp_path: Path) -> None:
    """A letter that the type face lacks is set in another one; none may be."""
    sheets = {"tape": tape_sheet(tape(168.0, 180.0, 180.0)), "ring": ring_sheet(degree_ring(300.0, 40.0))}
    (tmp_path / "sheet.pdf").write_bytes(sheet_pdf((sheets | job_sheets())[name]))
    told = subprocess.run(
        ["pdffonts", str(tmp_path / "sheet.pdf")], capture_output=True, text=True, check=True
    ).stdout
    fonts = told.splitlines()[2:]
    assert fonts
    assert all("AtkinsonHyperlegibleNext" in font for font in fonts)


def test_what_a_person_wrote_is_not_markup() -> None:
    sheet = static_sheet(static_setting(10.0, "clockwise", "points"), '#pagebreak() *x* "y"', False, "0" * 64)
    reader = PdfReader(BytesIO(sheet_pdf(sheet)))
    assert '#pagebreak() *x* "y"' in reader.pages[0].extract_text()


def test_a_paper_that_is_not_known() -> None:
    with pytest.raises(ValueError, match='--paper = "a5": must be "a4" or "letter"'):
        known_paper("a5")
