"""Drawing primitives and the look: well-formed SVG, labels apart, colours that can be read."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

import letter_widths
from sparkwright.drawing.contours import areas_between, lines_at
from sparkwright.drawing.frame import Frame, even_ticks, kept_apart
from sparkwright.drawing.look import (
    ADVANCE_SCALE_DEG,
    FONT_FAMILY,
    FONT_FOLDER,
    THEMES,
    TOKENS,
    Theme,
    advance_colour,
    contrast_ratio,
    red_green_blue,
    relative_luminance,
    text_colour_on,
)
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.png import fonts, png_from_svg
from sparkwright.drawing.svg import element, grouped, number, style, text_width_px, words, wrapped
from sparkwright.errors import Refusal

SVG = "{http://www.w3.org/2000/svg}"

# Rows of the published colour table (Nunez, Anderton and Renslow 2018, PLoS ONE 13(7), e0199239), read
# from matplotlib 3.11.2, colormaps["cividis"], at indices of 0 to 255 that lie between our steps.
CIVIDIS_ROWS = (
    (5, (0, 38, 86)),
    (10, (0, 42, 95)),
    (30, (22, 55, 112)),
    (60, (63, 76, 108)),
    (93, (94, 99, 111)),
    (128, (125, 124, 120)),
    (160, (155, 148, 118)),
    (200, (196, 180, 104)),
    (222, (220, 200, 89)),
    (250, (252, 226, 54)),
)


@pytest.mark.parametrize(("index", "published"), CIVIDIS_ROWS)
def test_advance_colours_are_the_published_ones(index: int, published: tuple[int, int, int]) -> None:
    low, high = ADVANCE_SCALE_DEG
    ours = red_green_blue(advance_colour(low + (high - low) * index / 255))
    assert ours == pytest.approx(published, abs=10)


def test_luminance_rises_with_advance_so_that_grey_print_keeps_the_order() -> None:
    luminances = [relative_luminance(advance_colour(float(deg))) for deg in range(51)]
    assert np.all(np.diff(luminances) > 0)


def test_contrast_follows_the_published_formula() -> None:
    # W3C, Web Content Accessibility Guidelines 2.1 (2018): black on white is 21; #767676 on white is
    # the well-known lightest grey that still reaches 4.5 (W3C, Understanding success criterion 1.4.3).
    assert contrast_ratio("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)
    assert contrast_ratio("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast_ratio("#777777", "#ffffff") < 4.5


@pytest.mark.parametrize("theme", sorted(TOKENS))
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_text_colours_can_be_read(theme: str, ground: str) -> None:
    tokens = TOKENS[theme]
    # 4.5 is what WCAG 2.1, success criterion 1.4.3, asks of text; the look asks for more.
    assert contrast_ratio(tokens["ink"], tokens[ground]) > 12
    for name in ("soft", "accent", "warn"):
        assert contrast_ratio(tokens[name], tokens[ground]) > 6
    for name in ("ink", "soft", "accent", "warn"):
        assert contrast_ratio(tokens[name], tokens["band"]) > 4.5


@given(st.floats(-20, 80))
def test_text_on_every_cell_can_be_read(advance_deg: float) -> None:
    colour = advance_colour(advance_deg)
    assert contrast_ratio(text_colour_on(colour), colour) >= 4.5


def test_text_is_escaped() -> None:
    drawn = words(0, 0, '<script>alert(1)</script> & "so"')
    assert ElementTree.fromstring(drawn).text == '<script>alert(1)</script> & "so"'
    assert "<script" not in drawn
    assert ElementTree.fromstring(element("g", id='"><script>')).get("id") == '"><script>'


def test_numbers_are_short_and_never_minus_zero() -> None:
    assert [number(value) for value in (0.0, -0.0001, 1.005, 1e3, -2.5)] == ["0", "0", "1", "1000", "-2.5"]
    assert grouped(-0.2) == "0"
    assert grouped(12345.6, 1) == "12,345.6"


@pytest.mark.parametrize("theme", THEMES)
def test_style_touches_only_pictures_of_its_theme(theme: Theme) -> None:
    rules = [line for line in style(theme).splitlines() if line.strip() and not line.startswith("@media")]
    assert rules
    assert all(line.startswith(f".spark-{theme} ") for line in rules)
    assert "{ink}" not in style(theme)


def test_fixed_themes_write_their_colours_out() -> None:
    assert "var(" not in style("light")
    assert TOKENS["dark"]["accent"] in style("dark")
    assert all(f"var(--spark-{name})" in style("auto") for name in ("ink", "paper", "accent", "warn"))
    assert "prefers-color-scheme: dark" in style("auto")
    assert "@media print" in style("auto")


@given(
    st.lists(st.floats(0, 400), min_size=1, max_size=8),
    st.floats(1, 40),
)
def test_labels_never_overlap_and_keep_their_order(wanted: list[float], gap: float) -> None:
    places = kept_apart(wanted, gap, 0.0, 400.0)
    order = np.argsort(wanted, kind="stable")
    along = np.array(places)[order]
    assert np.all(np.diff(along) >= gap - 1e-6)
    assert along[0] >= -1e-9
    if (len(wanted) - 1) * gap <= 400.0:
        assert along[-1] <= 400.0 + 1e-6


def test_labels_with_room_stay_where_they_belong() -> None:
    assert kept_apart([10.0, 200.0, 100.0], 20.0, 0.0, 400.0) == [10.0, 200.0, 100.0]


@given(st.floats(-100, 5000), st.floats(0.5, 5000), st.integers(3, 10))
def test_ticks_are_even_few_and_inside(low: float, span: float, at_most: int) -> None:
    ticks = even_ticks(low, low + span, at_most)
    assert 1 <= len(ticks) <= at_most
    assert all(low - 1e-6 * span <= tick <= low + span + 1e-6 * span for tick in ticks)
    if len(ticks) > 2:
        assert np.ptp(np.diff(ticks)) < 1e-6 * span


@given(st.text(alphabet="abc de", max_size=60), st.floats(40, 300))
def test_wrapping_keeps_every_word(text: str, width_px: float) -> None:
    lines = wrapped(text, width_px)
    assert " ".join(lines).split() == text.split()
    assert all(text_width_px(line) <= width_px or " " not in line.strip() for line in lines)


def test_frame_places_values_and_breaks_lines_where_unknown() -> None:
    frame = Frame(left=10, top=0, right=110, bottom=100, x_span=(0, 10), y_span=(0, 50))
    assert frame.points([0, 10], [0, 50]).tolist() == [[10, 100], [110, 0]]
    assert frame.curve([0, 2, 4, 6, 8, 10], [1, 2, np.nan, 4, 5, 90], "best").count("<path") == 2
    assert frame.curve([0, 5, 10], [np.nan] * 3, "best") == ""
    band = frame.band([0, 10], [10, -20], [20, 90], "band")
    assert 'd="M10 80L110 100L110 0L10 60Z"' in band


def test_contours_of_a_slope_lie_where_the_slope_says() -> None:
    x, y = np.array([0.0, 10.0]), np.array([0.0, 1.0])
    (line,) = lines_at(x, y, [[0.0, 10.0], [0.0, 10.0]], 2.5)
    assert line[:, 0] == pytest.approx([2.5, 2.5])
    ((ring,),) = areas_between(x, y, [[0.0, 10.0], [0.0, 10.0]], 2.5, 5.0)
    assert (ring[:, 0].min(), ring[:, 0].max()) == pytest.approx((2.5, 5.0))


def _picture(body: str = "") -> Picture:
    return Picture(
        "one", "Title & more", "What <is> seen", "A sentence.", ("x",), ((float("nan"),),), 200, 100, body
    )


@pytest.mark.parametrize("theme", THEMES)
def test_picture_is_xml_with_a_text_alternative(theme: Theme) -> None:
    root = ElementTree.fromstring(_picture().svg(theme))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == "Title & more"
    assert root.findtext(f"{SVG}desc") == "What <is> seen"
    ids = (root.get("aria-labelledby") or "").split()
    assert ids == [child.get("id") for child in root if child.tag in (f"{SVG}title", f"{SVG}desc")]
    assert "A sentence." in "".join(root.itertext())
    assert "Atkinson Hyperlegible Next" in (root.findtext(f"{SVG}style") or "")


def test_unknown_is_left_empty_in_the_table_never_zero() -> None:
    assert _picture().csv() == 'x\n""\n'


def test_png_repeats_and_has_the_stated_size(tmp_path: Path) -> None:
    picture = _picture()
    first, second = picture.png("light", 96.0), picture.png("light", 96.0)
    assert first == second
    # PNG: width and height stand at bytes 16 to 24 (W3C, Portable Network Graphics, IHDR chunk).
    width, height = int.from_bytes(first[16:20], "big"), int.from_bytes(first[20:24], "big")
    assert (width, height) == (200, 135)  # the drawing, then 15 px to the sentence and one line of 20 px
    assert [path.name for path in picture.save(tmp_path)] == ["one.svg", "one.png", "one.csv"]


def test_png_refuses_a_resolution_out_of_its_span() -> None:
    with pytest.raises(Refusal, match=r"^ppi = 5: must be from 36 to 1200 pixels per inch$"):
        png_from_svg("<svg/>", 5)


def test_the_type_face_ships_with_its_licence() -> None:
    assert len(list(FONT_FOLDER.glob("*.ttf"))) == 4
    assert "SIL OPEN FONT LICENSE" in (FONT_FOLDER / "OFL.txt").read_text(encoding="utf-8").upper()


def test_widths_of_letters_are_those_of_the_font_that_ships() -> None:
    assert letter_widths.TABLE.read_text(encoding="utf-8") == letter_widths.table()


@pytest.mark.parametrize("line", ["reach", "Knock at 2,800 rpm", "34.5 deg", "\u2212 WMiIl|"])
def test_a_line_is_as_wide_as_a_typesetter_sets_it(line: str) -> None:
    """Typst sets it with the font itself; the table rounds each letter by half a thousandth of the size."""
    page = (
        f'#set text(font: "{FONT_FAMILY}", weight: "bold", size: 1000pt, kerning: false, ligatures: false,'
        f'number-width: "tabular")\n#context [#metadata(measure("{line}").width.pt()) <width>]'
    )
    compiler = typst.Compiler(page.encode(), font_paths=fonts(), ignore_system_fonts=True)
    set_px = float(compiler.query("<width>", field="value", one=True))
    assert text_width_px(line, 1000.0) == pytest.approx(set_px, abs=0.6 * len(line))
