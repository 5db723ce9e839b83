"""Two people's changes of one job joined: nothing of either is lost, and nobody's is taken back unasked."""

from __future__ import annotations

from sparkwright.job import JobText
from sparkwright.shop.joined import joined
from workbench import PUMP_HOUSE

BASE = JobText(PUMP_HOUSE)
CELLS = [{"rpm": 1650, "kpa": 56, "advance_deg": 24.0}, {"rpm": 3000, "kpa": 80, "advance_deg": 30.0}]


def with_cells(*cells: dict[str, float]) -> JobText:
    return BASE.stating({**BASE.facts(), "hand": list(cells)})


def test_each_persons_fact_stands_where_they_changed_different_ones() -> None:
    one = BASE.changed("site", air_temperature="30 C")
    other = BASE.changed("site", humidity_percent=80)
    both = joined(BASE, one, other)
    assert both.met == ()
    assert [(each.section, each.key) for each in both.taken] == [("site", "humidity_percent")]
    assert both.text.facts()["site"]["air_temperature"] == "30 C"
    assert both.text.facts()["site"]["humidity_percent"] == 80
    # Comments and the rest of the text are those of what stands now.
    assert both.text.text.startswith(one.text[:200])


def test_a_fact_that_both_changed_stays_until_somebody_chooses() -> None:
    one, other = BASE.changed("fuel", ron=91), BASE.changed("fuel", ron=98)
    both = joined(BASE, one, other)
    assert both.taken == ()
    assert [(str(each.old), str(each.new)) for each in both.met] == [("91", "98")]
    assert both.text.facts()["fuel"]["ron"] == 91
    assert joined(BASE, one, other, [("fuel", "ron")]).text.facts()["fuel"]["ron"] == 98


def test_what_both_changed_alike_is_no_choice() -> None:
    same = BASE.changed("fuel", ron=91)
    both = joined(BASE, same, same)
    assert (both.taken, both.met) == ((), ())
    assert both.text == same


def test_a_fact_that_was_taken_out_is_taken_out() -> None:
    assert "humidity_percent" in BASE.facts()["site"]
    both = joined(BASE, BASE.changed("fuel", ron=91), BASE.changed("site", humidity_percent=None))
    assert "humidity_percent" not in both.text.facts()["site"]
    assert both.text.facts()["fuel"]["ron"] == 91


def test_cells_of_two_people_stand_beside_one_another() -> None:
    both = joined(BASE, with_cells(CELLS[0]), with_cells(CELLS[1]))
    assert sorted(each["rpm"] for each in both.text.facts()["hand"]) == [1650, 3000]
    assert both.met == ()


def test_pegs_typed_with_their_units_stand_beside_one_another_as_typed() -> None:
    pegs = [
        {"rpm": "1,650 rpm", "kpa": "56 kPa", "advance_deg": 24, "reason": "hot days"},
        {"rpm": 3000, "kpa": "4 inHg vacuum", "advance_deg": 30, "reason": "towing"},
    ]
    one, other = (BASE.stating({**BASE.facts(), "pegs": [each]}) for each in pegs)
    assert joined(BASE, one, other).text.facts()["pegs"] == pegs


def test_a_cell_that_both_set_is_a_choice() -> None:
    mine = {**CELLS[0], "advance_deg": 26.0}
    both = joined(BASE, with_cells(CELLS[0]), with_cells(mine))
    assert [each.key for each in both.met] == ["1650 rpm, 56 kPa"]
    assert both.text.facts()["hand"][0]["advance_deg"] == 24.0


def test_an_old_revision_that_is_brought_back_is_taken_whole() -> None:
    both = joined(BASE, BASE.changed("fuel", ron=91), BASE)
    assert both.text == BASE
    assert [each.key for each in both.taken] == ["ron"]
