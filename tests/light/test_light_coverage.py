"""What docs/light.md promises of the whole check, drawn again from engines whose truth is known.

The truth is that from which the readings were made. A sample of the lists stands in for all of them; a share
may differ from the page's by four of its standard errors (binomial), and that the page's own numbers come out
is a change alarm: rewrite them with `scripts/light_coverage.py` after a change that was meant.
"""

import math
import re
from dataclasses import replace

import pytest

from light_coverage import OUT_DEG, PAGE, Draw, Shares, coverage_table, shares, told_table
from pages import with_tables

SAMPLE = 80


def page_table(name: str) -> list[list[str]]:
    text = PAGE.read_text(encoding="utf-8")
    inside = text.split(f"<!-- {name} -->")[1].split("<!-- end")[0]
    rows = [[cell.strip() for cell in line.strip("| ").split("|")] for line in inside.strip().splitlines()]
    return [rows[0], *rows[2:]]


def sampled(readings: int, blunder_deg: float, offset_deg: float = 0.0) -> Shares:
    return shares(Draw(readings, blunder_deg, offset_deg, SAMPLE))


def near(share: float, told: str) -> bool:
    """Whether a share of the sample [%] is that of the page, as far as so few lists can tell."""
    wanted = float(told.removesuffix(" %"))
    error = math.sqrt(wanted * (100.0 - wanted) / SAMPLE)
    return abs(share - wanted) <= 4.0 * error + 1.0


@pytest.mark.parametrize(
    ("count", "blunder_deg"), [(3, 0.0), (4, 0.0), (6, 0.0), (10, 0.0), (4, 2.0), (6, 2.0)]
)
def test_the_page_tells_how_often_the_interval_holds_the_truth(count: int, blunder_deg: float) -> None:
    names, *rows = page_table("coverage")
    (row,) = [each for each in rows if each[0] == str(count)]
    told = row[names.index(f"one of {blunder_deg:g} deg" if blunder_deg else "no blunder")]
    assert near(sampled(count, blunder_deg).holds_offset, told)
    if not blunder_deg:
        assert 93 <= int(told.removesuffix(" %")) <= 97


@pytest.mark.parametrize(("count", "blunder_deg"), [(4, 0.0), (6, 0.0), (10, 0.0), (4, 2.0), (6, 2.0)])
def test_the_page_tells_what_is_said_of_a_good_engine(count: int, blunder_deg: float) -> None:
    blunder = f"{blunder_deg:g} deg" if blunder_deg else "none"
    (row,) = [each for each in page_table("told")[1:] if each[:2] == [str(count), blunder]]
    good = sampled(count, blunder_deg)
    measured = (good.proved, good.one_reading, good.set_right, good.shape)
    assert all(near(share, told) for share, told in zip(measured, row[2:6], strict=True)), (measured, row)


@pytest.mark.parametrize("count", [4, 5])
def test_few_readings_of_a_good_engine_never_tell_of_a_bend_and_seldom_set_anything(count: int) -> None:
    for blunder_deg in (0.0, 2.0, 3.0):
        good = sampled(count, blunder_deg)
        assert good.shape == 0.0
        assert good.set_right <= 8.0, "one in a few dozen that errors alone make, and so few lists"


def test_an_engine_that_is_off_is_not_proved_by_a_wrong_reading() -> None:
    for count in (4, 6):
        assert sampled(count, 2.0, OUT_DEG).proved == 0.0


def test_draws_are_the_same_each_time_and_around_their_truth() -> None:
    draw = Draw(6, offset_deg=3.0, lists=400)
    lists = list(draw.each())
    assert lists == list(draw.each())
    seen = [each.difference_deg for readings in lists for each in readings]
    assert sum(seen) / len(seen) == pytest.approx(3.0, abs=0.05)
    wrong = next(iter(replace(draw, blunder_deg=40.0).each()))
    assert sum(abs(each.difference_deg - 3.0) > 30.0 for each in wrong) == 1


def test_the_page_says_how_its_tables_were_drawn() -> None:
    text = " ".join(PAGE.read_text(encoding="utf-8").split())
    assert re.search(r"1,000 lists for each share \(seed 500\)", text)


@pytest.mark.proof
def test_the_tables_of_the_page_are_those_of_a_thousand_lists_each() -> None:
    """A change alarm: only this program has printed them."""
    text = PAGE.read_text(encoding="utf-8")
    assert with_tables(text, {"coverage": coverage_table(), "told": told_table()}) == text
