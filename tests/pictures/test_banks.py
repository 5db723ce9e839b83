"""The picture of bank numbering, against what the words of the question say."""

import re

import pytest

from sparkwright.ignition.crank import BankNumbering
from sparkwright.pictures.banks import banks_picture


def numbers_drawn(body: str) -> list[tuple[float, float, int]]:
    found = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>(\d)</text>', body)
    return [(float(x), float(y), int(text)) for x, y, text in found]


def test_both_numberings_of_a_v8_stand_as_the_question_says_them() -> None:
    """From the front: 1 3 5 7 beside 2 4 6 8, or 1 2 3 4 beside 5 6 7 8; the front is at the top."""
    columns: dict[float, list[tuple[float, int]]] = {}
    for x, y, cylinder in numbers_drawn(banks_picture(8).body):
        columns.setdefault(x, []).append((y, cylinder))
    seen = [[cylinder for _, cylinder in sorted(columns[x])] for x in sorted(columns)]
    assert seen == [[1, 3, 5, 7], [2, 4, 6, 8], [1, 2, 3, 4], [5, 6, 7, 8]]


@pytest.mark.parametrize(("told", "says"), [("odd-even", "odd and even"), ("by-bank", "bank by bank")])
def test_the_way_of_this_engine_is_named(told: BankNumbering, says: str) -> None:
    picture = banks_picture(6, told)
    assert picture.sentence.endswith(f"This engine's is {says}.")
    assert "This engine" not in banks_picture(6).sentence
