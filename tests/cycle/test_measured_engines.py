"""The page on measured engines: its tables are what the program gives, and what it says of them holds.

Sources stand beside each row in scripts/measured_engines.py. That the page equals the program is a change
alarm: rewrite the page with that script after a change in the cycle that was meant.
"""

from functools import lru_cache

import numpy as np
import pytest
from scipy.stats import binom

from measured_engines import (
    CYCLE_PAGE,
    PAGE,
    Direction,
    Row,
    bands,
    bests_out_of_fit,
    constants_table,
    directions,
    margin_table,
    measured_rows,
    orders,
    tables,
)
from pages import with_tables


@lru_cache(maxsize=1)
def rows() -> list[Row]:
    return measured_rows()


def numbered(number: str) -> list[Row]:
    found = [row for row in rows() if row.number == number]
    assert found
    return found


def test_the_pages_show_what_the_program_gives() -> None:
    """Change alarm only: these numbers are our own."""
    for path, fresh in ((PAGE, tables()), (CYCLE_PAGE, constants_table())):
        page = path.read_text(encoding="utf-8")
        assert with_tables(page, fresh) == page


def rows_of(start: str) -> list[Row]:
    found = [row for row in rows() if row.what.startswith(start)]
    assert found
    return found


KNOWN_MISSES = {
    "side valve of 1923, 1200 rpm: best": 9.0,
    "side valve of 1919, 600 rpm: torque": 30.0,
    "side valve of 1919, 900 rpm: torque": 30.0,
    "side valve of 1919, 1200 rpm: torque": 30.0,
    "octane engine: lost by 18 deg of retard": 2.5,
    "octane engine, spark 12.7 deg: peak": 9.0,
    "octane engine, spark 12.7 deg: angle of peak": 3.5,
    "octane engine, spark 5 deg late: angle of peak": 5.0,
    "octane engine, unfired: at top dead centre": 1.5,
    "air-cooled four, 2700 rpm, full load: best": 18.0,
    "motor test, 4.91 to 1: best": 6.5,
    "motor test, 5.29 to 1: best": 6.5,
    "motor test, 5.75 to 1: best": 6.5,
    "motor test, 6.33 to 1: best": 6.5,
    "motor test, 7.07 to 1: best": 6.5,
    "V8, 2200 rpm, 55 kPa, spark 30 deg: fuel over stoichiometric of the fastest burn": 0.08,
    "octane engine, 70 octane: ratio at knock": 1.0,
    "octane engine, from lambda 0.89 to 0.80: octane numbers gained": 2.0,
}
"""Figures that the program doesn't meet, and how far off each may be; the page says so with a star."""


def test_each_measured_figure() -> None:
    """Sources and what each figure is good for stand in scripts/measured_engines.py."""
    wrong = {
        row.what: (row.wanted, row.got)
        for row in rows()
        if abs(row.got - row.wanted) > max(row.allowed, KNOWN_MISSES.get(row.what, 0.0))
    }
    assert wrong == {}


def test_no_figure_is_called_missed_that_was_never_asked() -> None:
    assert set(KNOWN_MISSES) <= {row.what for row in rows()}


def test_best_of_the_slow_engine_rises_by_less_each_time() -> None:
    """PH-16, Upton, J. SAE (Aug. 1923): rising with speed by less each time as measured."""
    first, second = np.diff([row.got for row in numbered("PH-16")])
    assert first > second > 0.0


def test_best_falls_with_ratio_as_the_motor_test_sets_it() -> None:
    """ASTM D2700, second-hand: 8 deg over 2.16 units of ratio, 3.7 deg a unit; 30 % allowed."""
    tests = rows_of("motor test")
    slope = (tests[0].got - tests[-1].got) / (7.07 - 4.91)
    assert slope == pytest.approx(3.7, rel=0.3)


def test_the_ratio_at_knock_falls_with_boost_in_the_measured_shape() -> None:
    """SAE 2023-01-0251 (2023), fig. 6, second-hand: the scale may be 0.4 off, the shape 0.25."""
    off = [row.got - row.wanted for row in rows_of("octane engine, 100 octane,")]
    assert max(off) - min(off) <= 0.25


def test_torque_of_the_engine_of_1919_over_speed() -> None:
    """Maker's bulletin, second-hand: 99, 112.5, 107 N m. The program keeps rising: within 15 %."""
    torques = rows_of("side valve of 1919, 600") + rows_of("side valve of 1919, 900")
    torques += rows_of("side valve of 1919, 1200")
    ratios = np.array([row.got / row.wanted for row in torques])
    assert ratios.max() / ratios.min() <= 1.15


def test_what_is_known_by_its_order() -> None:
    """Sources beside each. Ethanol doesn't lose less by retard; the page says so."""
    disagreeing = [order.said for order in orders() if not order.agrees]
    assert disagreeing in ([], ["10 deg of retard from best cost petrol more than ethanol"])


def test_the_burn_of_an_ordinary_engine() -> None:
    """PH-11 to PH-14, Heywood (1988), recalled. Two lie outside, by 4 deg and 0.2 percent at most."""
    beyond = {"10 to 90 % burned": 4.0, "torque lost 10 deg late": 0.2}
    for band in bands():
        room = beyond.get(band.what, 0.0)
        assert all(band.lowest - room <= got <= band.highest + room for got in band.got), band.what


@pytest.mark.parametrize("change", directions(), ids=lambda change: change.what)
def test_what_moves_timing_moves_it_the_right_way(change: Direction) -> None:
    """Directions from the sources beside each; where nothing is said of best, it stays within a degree."""
    best_deg, knock_deg = change.moved_deg()
    if change.best_sign:
        assert np.sign(best_deg) == change.best_sign
    else:
        assert abs(best_deg) < 1.0
    if change.knock_sign:
        assert np.sign(knock_deg) == change.knock_sign


def test_nine_in_ten_bests_that_took_no_part_in_the_fit_lie_in_their_stated_band() -> None:
    """SciPy's binomial distribution: of so many, the middle 95 % of what a chance of 0.9 gives."""
    found = bests_out_of_fit()
    least, most = binom.interval(0.95, len(found), 0.9)
    assert len(found) >= 10
    assert least <= sum(each.inside() for each in found) <= most


def test_the_margin_costs_what_the_page_says_and_never_adds() -> None:
    """Common practice, no source: built borderline, so that the limit lies within -4 to +6 deg of best."""
    rows = [line.split(" | ") for line in margin_table().splitlines()[2:]]
    for what, best, limit, planned, _ in rows:
        assert float(planned) <= min(float(best), float(limit)) + 0.06
        if "1100" not in what:
            assert -4.0 <= float(limit) - float(best) <= 6.0
