"""Facts as forms: what is typed, what is said of it, new jobs and the engine page, asked as without script.

Units are held against their published definitions: inch and pound of 1959 (NIST SP 811, 2008, appendix B),
and the psi that follows from them, 6.894757 kPa.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st

from sparkwright.errors import Key, Problem, Refusal, phrase
from sparkwright.job import Job, JobText, starter_text
from sparkwright.job.field_kind import unit_of_key
from sparkwright.job.names import FIELDS, label_of, title_of
from sparkwright.job.problems import section_of
from sparkwright.job.sections.section import field_kind_of
from sparkwright.shop import Shop
from sparkwright.units import System
from sparkwright.web.field_words import changed_words, hint_of, on_page
from sparkwright.web.filled import fill
from sparkwright.web.form_names import field_kind_for
from sparkwright.web.forms import Field, all_fields, groups, sections_shown
from sparkwright.web.pages.what_if_facts import facts_to_change
from sparkwright.web.peg_rows import with_rows
from sparkwright.web.typed import read_as, shown, typed
from workbench import EXAMPLES, PUMP_HOUSE, workbench

Opened = tuple[TestClient, Shop]
JOBS = [Job.load(path) for path in sorted(EXAMPLES.glob("*.toml"))] + [Job.from_toml(starter_text())]
ALL = sections_shown("new")


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    with workbench(tmp_path) as both:
        yield both


def form_of(job: Job, system: System = "metric") -> dict[str, str]:
    """What a browser posts of a form that nobody touched."""
    fields = all_fields(groups(ALL, job.facts(), system))
    return {field.name: field.text for field in fields} | {"pegs": "shown"}


def field_of(job: Job, name: str, system: System = "metric") -> Field:
    return next(each for each in all_fields(groups(ALL, job.facts(), system)) if each.name == name)


# Text to value and back


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("engine.compression_ratio", "9.5", 9.5),
        ("engine.compression_ratio", "9:1", "9:1"),
        ("engine.idle_rpm", "700 rpm", "700 rpm"),
        ("engine.idle_rpm", "700", 700),
        ("distributor.base_deg", "10°", "10°"),
        ("distributor.base_deg", "28 1/2", "28 1/2"),
        ("distributor.base_deg", "\u22124", -4),
        ("fuel.ethanol_percent", "5 %", "5 %"),
        ("engine.firing_order", "1 5 7 2 6 3 4 8", [1, 5, 7, 2, 6, 3, 4, 8]),
        ("engine.firing_order", "1-5-7-2-6-3-4-8", [1, 5, 7, 2, 6, 3, 4, 8]),
        ("engine.firing_order", "[1, 5, 7, 2, 6, 3, 4, 8]", [1, 5, 7, 2, 6, 3, 4, 8]),
        ("controller.rpm", "600, 1000, 1500 rpm", [600, 1000, 1500]),
        ("plugs.leads_adjacent", "3-4, 5 and 6", [[3, 4], [5, 6]]),
        ("plugs.leads_adjacent", "[[3, 4]]", [[3, 4]]),
        ("plugs.leads_adjacent", "none", []),
        ("old_curve.mechanical", "700 0\n1800, 14", [[700, 0], [1800, 14]]),
        ("old_curve.mechanical", "[[700, 0], [1800, 14]]", [[700, 0], [1800, 14]]),
        ("old_curve.vacuum", "5 inHg, 0; 12 in Hg 14", [["5 inHg", 0], ["12 in Hg", 14]]),
        ("engine.chamber", "wedge", "wedge"),
        ("engine.cylinders", "8", 8),
        ("pickup.polarity_checked", "yes", True),
        ("driver.controls_dwell", "no", False),
        ("engine.bore", " 3.921 in ", "3.921 in"),
        ("engine.bore", "  ", None),
    ],
)
def test_what_is_typed_becomes_what_the_file_holds(name: str, text: str, value: Any) -> None:
    assert typed(field_kind_for(name), text, unit_of_key(name)) == value


def test_pressures_of_plain_keys_may_be_typed_in_other_units() -> None:
    # NIST SP 811: 1 psi = 6.894757 kPa, half of its last digit.
    idle = field_kind_for("engine.idle_kpa")
    stands = typed(idle, "6 psi absolute", "kPa")
    assert stands == "6 psi absolute"
    assert idle.read(stands, "kPa") == pytest.approx(6 * 6.894757, abs=6 * 5e-7)
    assert typed(field_kind_for("controller.kpa"), "30 60 90", "kPa") == [30, 60, 90]


@pytest.mark.parametrize(
    ("name", "text", "must", "do"),
    [
        ("engine.compression_ratio", "nine", "must be a number", "allowed is 3.5 to 16"),
        ("engine.compression_ratio", "9,5,1", "must be a number", "allowed is 3.5 to 16"),
        ("engine.idle_rpm", "fast", "must be a number of rpm", ""),
        ("engine.bore", "4", "must have a unit: mm, cm", "write it as "),
        ("site.altitude", "1,450 m", "could be 1.45 m or 1450 m", "write 1450 m or 1.45 m"),
        ("engine.bore", "4 inchs", "has no known unit of length", "perhaps in; known are "),
        ("engine.bore", "4 in 5", "has no known unit of length", "known are "),
        ("engine.idle_kpa", "5 inch", "has no known unit of pressure", "perhaps inHg; known are "),
        ("engine.firing_order", "1 8 4", "must hold 4 to 8 numbers", "it holds 3"),
        ("engine.firing_order", "1 8 x 4", "must be a number", "allowed is 1 to 8"),
        ("plugs.leads_adjacent", "5 7 3", "must be pairs of cylinders", "one stands alone"),
        ("plugs.leads_adjacent", "left bank", "must be pairs of cylinders", "for example 3-4, 5-6"),
        ("old_curve.mechanical", "700 0 early", "must be points, one a line", "what stands alone is early"),
        ("old_curve.mechanical", "1800 14\n700 0", "must rise from each value", "700 follows 1800"),
        ("engine.chamber", "wegde", "must be ", 'perhaps "wedge" is meant'),
        ("name", "x" * 121, "must be at most 120 characters", "it has 121"),
        ("controller.rpm", "9" * 4001, "must be at most 4,000 characters", "it has 4,001"),
        # Would keep the whole workbench busy for days if figures were parted in every way there is.
        ("old_curve.mechanical", "9" * 2000 + " " * 1900 + "x", "must be points, one a line", "what stands"),
    ],
)
def test_what_cannot_stand_is_refused_in_words(name: str, text: str, must: str, do: str) -> None:
    with pytest.raises(Refusal) as refused:
        typed(field_kind_for(name), text, unit_of_key(name))
    (problem,) = refused.value.problems
    assert str(problem.must).startswith(must)
    assert str(problem.do).startswith(do)
    assert "in quotes" not in str(problem)


def test_says_how_it_was_read_where_that_is_not_plain() -> None:
    bore = field_kind_for("engine.bore")
    assert read_as(bore, "3.75 in", "3.75 in") == "= 95.25 mm"
    assert read_as(bore, "95.25 mm", "95.25 mm") == ""
    assert read_as(bore, "95.25 mm", "95.25 mm", system="inch") == "= 3.750 in"
    assert read_as(bore, "3.75 inches", "3.75 inches", system="inch") == ""
    assert read_as(bore, "3 3/4 in", "3 3/4 in", system="inch") == "= 3.750 in"
    assert read_as(field_kind_for("site.altitude"), "2 km", "2 km") == "= 2000 m"
    # 6 x 3.386389 kPa (NIST SP 811), as a gauge shows it.
    assert read_as(field_kind_for("induction.max_boost"), "6 inHg", "6 inHg") == "= 20.3 kPa"
    assert read_as(field_kind_for("battery.running"), "13.8 V", "13.8 V") == ""
    assert read_as(field_kind_for("engine.firing_order"), [1, 3, 4, 2], "1-3-4-2") == "= 4 numbers: 1 3 4 2"
    assert read_as(field_kind_for("engine.idle_rpm"), 700, "700", "rpm") == ""
    assert read_as(field_kind_for("engine.idle_rpm"), 700, "700 rpm", "rpm") == ""
    load = field_kind_for("pegs.kpa")
    assert read_as(load, 44.8159, "6.5 psi", "kPa") == "= 44.8 kPa"
    # 100 kPa less 60 kPa are 11.81 inHg (3.386389 kPa each, NIST SP 811), as a vacuum gauge counts.
    assert read_as(load, 60, "60", "kPa", "inch", lambda: 100.0) == "= 11.8 inHg vacuum"
    assert read_as(load, 60, "60", "kPa", "metric", lambda: 100.0) == ""
    assert read_as(load, 59.36, "12 inHg vacuum", "kPa", "inch", lambda: 100.0) == ""
    assert read_as(field_kind_for("name"), "x", "x") == ""


@pytest.mark.parametrize(
    ("section", "key", "text", "metric", "inch"),
    [
        ("engine", "bore", "95.25 mm", "", "= 3.750 in"),
        ("engine", "bore", "4.00 in", "= 101.60 mm", ""),
        ("coil", "warm", "80 degC", "", "= 176 degF"),  # 80 x 9/5 + 32
        # Air of 85 kPa less 12 inHg of 3.386389 kPa (NIST SP 811) leaves 44.4 kPa.
        ("engine", "idle_kpa", "12 inHg vacuum", "= 44.4 kPa", ""),
        ("engine", "idle_kpa", 51, "", "= 10.0 inHg vacuum"),
        ("engine", "compression_ratio", "9.5:1", "", ""),
        ("distributor", "base_deg", "9 1/2 deg", "= 9.5 deg", "= 9.5 deg"),
        ("engine", "redline_rpm", 5800, "", ""),
    ],
)
def test_a_field_shows_what_was_typed_and_beside_it_the_persons_units(
    section: str, key: str, text: Any, metric: str, inch: str
) -> None:
    typed_text = JobText(starter_text()).changed("site", altitude=None, pressure="85 kPa")
    facts = typed_text.changed(section, **{key: text}).facts()
    systems: tuple[System, System] = ("metric", "inch")
    for system, beside in zip(systems, (metric, inch), strict=True):
        fields = {each.name: each for each in all_fields(groups(ALL, facts, system))}
        assert (fields[f"{section}.{key}"].text, fields[f"{section}.{key}"].read) == (str(text), beside)


def test_a_small_unit_chosen_for_what_is_small_stays() -> None:
    # 80 pF and not 0.00 uF.
    assert shown(field_kind_for("coil.secondary_capacitance"), "80 pF", "inch") == "80 pF"


# Whole forms


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_a_form_that_nobody_touched_changes_nothing(job: Job, system: System) -> None:
    filled = fill(form_of(job, system), job.facts())
    assert filled.problems == {}
    assert filled.job is not None
    assert filled.job.fingerprint == job.fingerprint
    assert changed_words(job.facts(), filled.job.facts()) == ""


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
def test_a_whole_form_makes_the_job_from_nothing(job: Job) -> None:
    filled = fill(form_of(job), {})
    assert filled.problems == {}
    assert filled.job is not None
    remade, meant = filled.job, job.without_hand()
    assert remade.engine.firing_order == meant.engine.firing_order
    assert remade.pegs == meant.pegs
    # Shown to a few decimals, so the same to a thousandth.
    for section in ("engine", "cam", "distributor", "coil"):
        for attribute in type(getattr(meant, section)).model_fields:
            value = getattr(getattr(meant, section), attribute)
            again = getattr(getattr(remade, section), attribute)
            assert again == pytest.approx(value, rel=1e-3) if isinstance(value, float) else again == value


def test_every_fact_of_a_job_has_a_field_with_words_and_none_has_two() -> None:
    fields = all_fields(groups(ALL, {}, "metric"))
    with_doors = {name for name, info in FIELDS.items() if field_kind_of(info) is not None}
    asked_elsewhere = {name for name in with_doors if name.startswith(("pegs.", "hand."))}
    assert {field.name for field in fields} == with_doors - asked_elsewhere
    assert len({field.id for field in fields}) == len(fields)
    assert set(sections_shown("engine")) | set(sections_shown("ignition")) == set(ALL)
    for name in with_doors:
        label = label_of(name)
        assert "_" not in label + hint_of(name, FIELDS[name]), name
        assert label[0].isupper()
    labels = [field.label for field in fields if not field.name.startswith(("shop.", "customer."))]
    assert {label for label in labels if labels.count(label) > 1} == set()


def test_sections_hold_the_same_as_the_model() -> None:
    sections = {name for name, info in Job.model_fields.items() if section_of(info) is not None}
    assert set(ALL) - {"job"} == sections - {"hand"}
    assert (title_of("cam"), title_of("light")) == ("Camshaft", "Timing light")


@pytest.mark.parametrize(
    ("changed", "name", "sentence"),
    [
        (
            {"engine.rod": "6 in", "engine.rod_ratio": "1.7"},
            "engine.rod_ratio",
            "must not stand beside “Rod length”; keep one",
        ),
        (
            {"engine.idle_rpm": "2400", "engine.redline_rpm": "2000"},
            "engine.idle_rpm",
            "must be below “Redline”; check both",
        ),
        (
            {"driver.energy": "100 mJ"},
            "driver.energy",
            "must stand only where “Kind of driver” is capacitive",
        ),
        ({"driver.energy": "100 mJ"}, "driver.energy", "take it out or change “Kind of driver”"),
        ({"induction.kind": "boosted"}, "induction.max_boost", "given where “Natural or boosted” is"),
        ({"induction.kind": "boosted"}, "induction.max_boost", "boosted; for example 10 psi."),
        ({"site.pressure": "85 kPa"}, "site.pressure", "must not stand beside “Altitude”"),
        ({"cam.intake_opens_deg": "3"}, "cam.intake_opens_deg", "must not stand beside “Intake duration”"),
        ({"battery.cranking": "14 V", "battery.running": "12 V"}, "battery.cranking", "must not be above “"),
    ],
)
def test_a_page_calls_another_field_by_its_label_and_a_terminal_by_its_key(
    changed: dict[str, str], name: str, sentence: str
) -> None:
    filled = fill(form_of(JOBS[-1]) | changed, JOBS[-1].facts())
    assert sentence in filled.problems[name]
    with pytest.raises(Refusal) as refused:
        Job.from_facts(filled.tables)
    said = next(str(each) for each in refused.value.problems if each.place == name)
    assert "“" not in said


def test_a_peg_added_while_a_vacuum_cannot_stand_at_the_new_height_keeps_the_page() -> None:
    facts = JobText(starter_text()).changed("engine", idle_kpa="20 inHg vacuum", idle_rpm=800).facts()
    form = {"site.altitude": "5000 m", "engine.idle_kpa": "20 inHg vacuum"}
    filled = fill(form, facts)
    assert "engine.idle_kpa" in filled.problems
    fields = all_fields(groups(ALL, facts, "metric", filled=filled, told=False))
    assert next(each for each in fields if each.name == "engine.idle_kpa").text == "20 inHg vacuum"


def test_words_that_are_typed_like_a_key_stay_as_they_are_typed() -> None:
    problem = Problem("engine.bore", "redline_rpm", "must be a number", 'for example kind = "boosted"')
    assert on_page(problem.do, "engine.bore") == 'for example kind = "boosted"'
    keys = phrase("must be below ", Key("redline_rpm"), "; you wrote redline_rpm")
    assert on_page(keys, "engine.idle_rpm") == "must be below “Redline”; you wrote redline_rpm"
    assert str(keys) == "must be below redline_rpm; you wrote redline_rpm"


def test_a_try_offers_first_what_people_ask_about_most_and_nothing_that_stands_in_rows() -> None:
    often, *sections = facts_to_change(JOBS[-1], "metric")
    assert [fact.label.partition(",")[0] for fact in often.facts[:3]] == [
        "Research octane number (RON)",
        "Ethanol",
        "Base",
    ]
    offered = {fact.name for section in sections for fact in section.facts}
    assert {fact.name for fact in often.facts} <= offered
    assert not {name for name in offered if name.startswith(("pegs.", "hand.", "shop.", "customer."))}


def test_sentences_stand_beside_the_fields_they_are_about() -> None:
    job = JOBS[-1]
    form = form_of(job) | {
        "engine.bore": "4",
        "cam.intake_opens_deg": "3",
        "fuel.ron": "",
        "induction.kind": "boosted",
        "distributor.cap_order": "1 2 3 4 5 6 7 9",
        "battery.cranking": "20 V",
        "old_curve.initial_deg": "6",
    }
    problems = fill(form, job.facts()).problems
    assert problems["engine.bore"].startswith("“4” must have a unit: mm, cm")
    assert problems["cam.intake_opens_deg"].startswith(
        "“3” must not stand beside “Intake duration”; state the"
    )
    assert (
        problems["fuel.ron"]
        == "Must be given, or “Motor octane number (MON)” or “Anti-knock index (AKI)”; read it at the pump."
    )
    assert problems["induction.max_boost"] == (
        "Must be given where “Natural or boosted” is boosted; for example 10 psi."
    )
    assert problems["distributor.cap_order"].startswith("“1 2 3 4 5 6 7 9” must be 1 to 8")
    assert (
        problems["battery.cranking"]
        == "“20 V” must not be above “Voltage, engine running”; perhaps they are swapped."
    )
    assert problems["old_curve.mechanical"] == "Must be given; for example 700, 0; 1800, 14; 3200, 24."
    order = list(problems)
    assert order == sorted(order, key=list(form).index)


def test_facts_of_different_sections_are_held_against_one_another() -> None:
    job = JOBS[-1]
    form = form_of(job) | {
        "plugs.leads_adjacent": "3-4, 7-8",
        "engine.cylinders": "6",
        "engine.firing_order": "1 2 3 4 5 6",
        "engine.bank_numbering": "",
    }
    assert fill(form, job.facts()).problems == {
        "plugs.leads_adjacent": "“3-4, 7-8” must hold only cylinders 1 to 6; check “Number of cylinders”."
    }


def test_empty_rows_of_pegs_are_left_out_and_the_sentence_finds_its_row() -> None:
    job = JOBS[-1]
    whole = {"pegs.0.rpm": "", "pegs.0.kpa": " ", "pegs.0.advance_deg": "", "pegs.0.reason": ""}
    third = {
        "pegs.2.rpm": "3000",
        "pegs.2.kpa": "45",
        "pegs.2.advance_deg": "99",
        "pegs.2.reason": "heard it",
    }
    filled = fill(form_of(job) | whole | third, job.facts())
    assert list(filled.problems) == ["pegs.2.advance_deg"]
    assert filled.sentences()[0][:2] == ("pegs-2-advance_deg", "Peg 3, Advance, deg")
    good = fill(form_of(job) | whole | third | {"pegs.2.advance_deg": "34"}, job.facts())
    assert good.job is not None
    assert [(peg.rpm, peg.advance_deg) for peg in good.job.pegs] == [(3000, 34)]
    high = fill(form_of(job) | third | {"pegs.2.advance_deg": "70"}, job.facts())
    assert high.problems["pegs.2.advance_deg"].startswith(
        "“70” must be 0 to 60, what controller and limits allow"
    )


def test_taking_all_pegs_out_takes_them_out() -> None:
    job = Job.from_facts(
        JOBS[-1].facts() | {"pegs": [{"rpm": 900, "kpa": 40, "advance_deg": 9, "reason": "x"}]}
    )
    form = {name: text for name, text in form_of(job).items() if not name.startswith("pegs.")}
    filled = fill(form, job.facts())
    assert filled.job is not None
    assert filled.job.pegs == ()
    # A form without pegs leaves them alone.
    assert fill({"engine.swirl": "1.2"}, job.facts()).tables["pegs"] == job.facts()["pegs"]


def test_rows_are_added_behind_and_taken_out_of_the_middle() -> None:
    form = {f"pegs.{row}.rpm": str(row) for row in range(3)}
    added = with_rows(form | {"do": "add a peg"})
    assert added is not None
    assert added["pegs.3.reason"] == ""
    left = with_rows(form | {"do": "drop peg 1", "name": "x"})
    assert left == {"do": "", "pegs.0.rpm": "0", "pegs.1.rpm": "2", "name": "x"}
    assert with_rows(form | {"do": "save"}) is None


def test_a_section_cleared_of_all_its_facts_is_gone() -> None:
    job = Job.from_toml(PUMP_HOUSE)
    assert job.old_curve is not None
    cleared = form_of(job) | {name: "" for name in FIELDS if name.startswith("old_curve.")}
    filled = fill(cleared, job.facts())
    assert filled.job is not None
    assert filled.job.old_curve is None
    assert changed_words(job.facts(), filled.job.facts()).startswith(
        "Old mechanical and vacuum curve: initial"
    )


def test_the_list_on_a_form_names_the_cell_set_by_hand_and_not_a_peg_beside_it() -> None:
    facts = JOBS[-1].facts()
    cell = {"rpm": 3000, "kpa": 45, "advance_deg": 99, "reason": "heard it", "by": "A", "on": "2030-05-01"}
    facts["hand"] = [cell]
    peg = {"rpm": "2000", "kpa": "60", "advance_deg": "20", "reason": "heard it"}
    form = {"pegs": "", **{f"pegs.3.{key}": text for key, text in peg.items()}}
    assert [name for name, _, _ in fill(form, facts).sentences()] == ["hand-0-advance_deg"]


def test_a_value_that_reads_like_a_sentence_is_not_taken_for_one() -> None:
    facts = JOBS[-1].facts() | {"name": "x: must be y; do z" + chr(7)}
    (told,) = fill({"engine.bore": "100 mm"}, facts).problems.items()
    assert told == (
        "name",
        "Must hold only characters that print; take out line breaks and control characters.",
    )


@settings(max_examples=300, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*FIELDS, "pegs", "pegs.0.rpm", "pegs.7.reason", "pegs.100.rpm", "hand.0.rpm"]),
        st.text(max_size=40),
        max_size=6,
    )
)
def test_whatever_is_typed_gives_a_job_or_a_sentence(typed_texts: dict[str, str]) -> None:
    job = JOBS[-1]
    filled = fill(form_of(job) | typed_texts, job.facts())
    assert (filled.job is None) == bool(filled.problems or filled.loose)
    for sentence in filled.problems.values():
        assert sentence.endswith(".")
        assert "validation" not in sentence
    groups(ALL, job.facts(), "inch", filled=filled)


# Pages


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def value_of(page: str, name: str) -> str:
    found = re.search(rf'<input id="[^"]*" name="{re.escape(name)}" value="([^"]*)"', page)
    assert found, name
    return unescape(found[1])


def assert_nothing_inline(page: str) -> None:
    """The content-security policy lets no style, script or handler stand in the page."""
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|<script(?![^>]* src=)|javascript:", page)


def posted(client: TestClient, address: str, form: dict[str, str]) -> Any:
    return client.post(address, data=form, follow_redirects=False)


def test_new_asks_what_a_plan_cannot_do_without_first(opened: Opened) -> None:
    client, _ = opened
    page = client.get("/new?every=1").text
    assert_nothing_inline(page)
    for name, info in FIELDS.items():
        if info.is_required() and not name.startswith(("pegs.", "hand.", "old_curve.")):
            field = page[page.index(f'name="{name}"') - 500 : page.index(f'name="{name}"')]
            assert "needed</span>" in field, name
            assert page.count("<details", 0, page.index(f'name="{name}"')) == page.count(
                "</details>", 0, page.index(f'name="{name}"')
            ), f"{name} lies folded away"
    order = [page.index(f'id="of-{section}"') for section in ALL]
    assert order == sorted(order)
    assert 'href="/new/file"' in page


def test_nothing_typed_is_lost_when_a_job_cannot_be_made(opened: Opened) -> None:
    client, shop = opened
    hostile = '"><script>alert(1)</script>'
    answer = posted(client, "/new", {"name": hostile, "engine.bore": "4", "who": "", "note": "line\none"})
    assert answer.status_code == 422
    page = answer.text
    assert "<script>alert" not in page
    assert_nothing_inline(page)
    assert value_of(page, "name") == hostile
    assert value_of(page, "engine.bore") == "4"
    assert "line\none" in page
    words = text_of(page)
    assert "things have to be put right. All that was typed is still here." in words
    assert "“4” must have a unit" in words
    assert "Your name : your name (not given): must be given; the history says who changed what" in words
    for target in re.findall(r'<li><a href="#([^"]+)"', page):
        assert f'id="{target}"' in page
    # The list has the focus, the field says that it is refused and by which sentence.
    assert 'id="problems" role="alert" tabindex="-1" autofocus' in page
    assert re.search(
        r'id="engine-bore"[^>]*aria-describedby="[^"]*said-engine-bore"[^>]*aria-invalid="true"', page
    )
    assert shop.jobs.count() == 0


def needed_only() -> dict[str, str]:
    """What the starter states, typed as a person types it."""
    job = Job.from_toml(starter_text())
    return {name: text for name, text in form_of(job).items() if text} | {
        "name": "Bench four",
        "who": "A. Example",
    }


def test_a_job_is_made_from_nothing(opened: Opened) -> None:
    client, shop = opened
    answer = posted(client, "/new", needed_only())
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/bench-four/engine")
    made = shop.jobs.latest("bench-four")
    assert (made.who, made.why, made.job.engine.bore_mm) == ("A. Example", "Started from nothing", 99.5934)


def test_a_job_begins_with_a_copy_of_another(opened: Opened) -> None:
    client, shop = opened
    shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in")
    page = client.get("/new?copy=pump-house-v8").text
    assert "A new job that begins like Pump-house V8." in text_of(page)
    assert value_of(page, "engine.stroke") == "3.618 in"
    assert value_of(page, "name") == ""
    assert value_of(page, "customer.name") == ""
    shown_fields = re.findall(r'<input id="[^"]+" name="([a-z_.0-9]+)" value="([^"]*)"', page)
    selects = re.findall(r'<select id="[^"]+" name="([^"]+)".*?</select>', page, re.DOTALL)
    form = {name: unescape(value) for name, value in shown_fields}
    job = Job.from_toml(PUMP_HOUSE)
    form |= {name: form_of(job)[name] for name in selects}
    answer = posted(
        client, "/new", form | {"copy": "pump-house-v8", "name": "Second V8", "who": "B. Example"}
    )
    assert answer.headers["location"] == "/jobs/second-v8/engine", text_of(answer.text)[:500]
    second = shop.jobs.latest("second-v8")
    assert second.why == "Started as a copy of Pump-house V8"
    assert second.job.engine == job.engine
    assert second.job.customer is None


@pytest.fixture
def pump_house(opened: Opened) -> Opened:
    opened[1].jobs.create(PUMP_HOUSE, who="A. Example", why="came in")
    return opened


ENGINE = "/jobs/pump-house-v8/engine"


def test_the_engine_page_says_what_engine_it_is(pump_house: Opened) -> None:
    client, _ = pump_house
    page = client.get(ENGINE).text
    assert_nothing_inline(page)
    # pi/4 x 99.59^2 x 91.90 mm x 8 = 5.73 l
    assert "A 5.7 l V8, 9:1, wedge chamber, without boost, on 95 RON at 1450 m." in text_of(page)
    assert value_of(page, "engine.bore") == "3.921 in"
    client.cookies.set("units", "inch")
    assert value_of(client.get(ENGINE).text, "engine.bore") == "3.921 in"


def test_a_change_is_a_revision_that_says_what_changed(pump_house: Opened) -> None:
    client, shop = pump_house
    form = {
        "based_on": "1",
        "who": "B. Example",
        "engine.bore": "4.03 in",
        "fuel.ron": "98",
        "fuel.mon": "88",
    }
    answer = posted(client, ENGINE, form)
    assert (answer.status_code, answer.headers["location"]) == (303, ENGINE)
    saved = shop.jobs.latest("pump-house-v8")
    assert saved.number == 2
    assert saved.job.engine.bore_mm == pytest.approx(4.03 * 25.4)
    assert (
        saved.why == "Engine: bore; Fuel and mixture: research octane number (RON), motor octane number (MON)"
    )
    assert saved.job.engine.stroke_mm == Job.from_toml(PUMP_HOUSE).engine.stroke_mm


def test_looking_in_inches_and_saving_makes_no_revision(pump_house: Opened) -> None:
    client, shop = pump_house
    job = shop.jobs.latest("pump-house-v8").job
    client.cookies.set("units", "inch")
    answer = posted(client, ENGINE, form_of(job, "inch") | {"based_on": "1", "who": "A. Example"})
    assert answer.headers["location"] == f"{ENGINE}?unchanged=1"
    assert "Nothing was changed, so no revision was made." in client.get(answer.headers["location"]).text
    assert shop.jobs.latest("pump-house-v8").number == 1


def test_two_who_save_at_once_both_keep_their_work(pump_house: Opened) -> None:
    client, shop = pump_house
    posted(client, ENGINE, {"based_on": "1", "who": "First", "fuel.ron": "98"})
    answer = posted(client, ENGINE, {"based_on": "1", "who": "Second", "engine.swirl": "1.3"})
    kept = shop.jobs.kept("pump-house-v8")
    assert answer.headers["location"] == f"/jobs/pump-house-v8/kept/{kept[0].id}"
    assert Job.from_toml(kept[0].text).engine.swirl == 1.3
    assert shop.jobs.latest("pump-house-v8").job.fuel.ron == 98


def test_a_refused_save_keeps_everything_and_saves_nothing(pump_house: Opened) -> None:
    client, shop = pump_house
    form = {
        "based_on": "1",
        "who": "A. Example",
        "why": "measured",
        "engine.rod": "5.7",
        "engine.swirl": "1.2",
    }
    answer = posted(client, ENGINE, form)
    assert answer.status_code == 422
    page = answer.text
    assert value_of(page, "engine.rod") == "5.7"
    assert value_of(page, "engine.swirl") == "1.2"
    assert value_of(page, "why") == "measured"
    assert "1 thing has to be put right" in text_of(page)
    assert shop.jobs.latest("pump-house-v8").number == 1
    nobody = posted(client, ENGINE, {"based_on": "1", "who": " ", "engine.swirl": "1.2"})
    assert nobody.status_code == 422
    assert "must be given; the history says who changed what" in nobody.text


def test_pegs_are_added_and_taken_out_without_script(pump_house: Opened) -> None:
    client, shop = pump_house
    page = posted(client, ENGINE, {"based_on": "1", "pegs": "shown", "do": "add a peg", "engine.swirl": "x"})
    assert page.status_code == 200
    assert 'name="pegs.0.rpm" value=""' in page.text
    assert value_of(page.text, "engine.swirl") == "x"
    assert 'id="problems"' not in page.text
    rows = {"pegs.0.rpm": "3000", "pegs.0.kpa": "45", "pegs.0.advance_deg": "30", "pegs.0.reason": "surged"}
    posted(client, ENGINE, {"based_on": "1", "pegs": "shown", "who": "A. Example", **rows})
    assert [peg.reason for peg in shop.jobs.latest("pump-house-v8").job.pegs] == ["surged"]


def test_an_old_revision_is_only_read(pump_house: Opened) -> None:
    client, _ = pump_house
    posted(client, ENGINE, {"based_on": "1", "who": "A. Example", "fuel.ron": "98"})
    page = client.get(f"{ENGINE}?number=1").text
    assert "This is an old revision, to read." in page
    assert '<fieldset class="plain" disabled>' in page
    assert 'name="who"' not in page
    assert value_of(page, "fuel.ron") == "95"


def test_what_was_typed_while_somebody_saved_can_still_be_put_right(pump_house: Opened) -> None:
    client, _ = pump_house
    posted(client, ENGINE, {"based_on": "1", "who": "First", "fuel.ron": "98"})
    page = posted(client, ENGINE, {"based_on": "1", "who": "Second", "engine.swirl": "high"}).text
    assert value_of(page, "engine.swirl") == "high"
    assert " disabled" not in page
    assert 'name="who" value="Second"' in page


@pytest.mark.parametrize(("who", "why"), [("A\x07", ""), ("A. Example", "two\x1blines"), ("A" * 81, "")])
def test_a_name_or_reason_that_cannot_stand_loses_nothing(pump_house: Opened, who: str, why: str) -> None:
    client, _ = pump_house
    answer = posted(client, ENGINE, {"based_on": "1", "who": who, "why": why, "engine.swirl": "1.2"})
    assert answer.status_code == 422
    assert value_of(answer.text, "engine.swirl") == "1.2"
    assert "1 thing has to be put right" in text_of(answer.text)


@pytest.mark.parametrize("number", ["", "x", "-1", "99999999999", "7", "²"])
def test_a_form_of_no_revision_is_refused_in_words(pump_house: Opened, number: str) -> None:
    client, _ = pump_house
    answer = posted(client, ENGINE, {"based_on": number, "who": "A. Example"})
    assert 400 <= answer.status_code < 500
    assert "revision" in answer.text


# One field as it is typed


def checked(client: TestClient, of: str, form: dict[str, str]) -> str:
    answer = client.post(f"/check?of={of}", data=form)
    assert answer.status_code == 200
    return str(answer.text)


def test_one_field_says_how_it_was_read_or_what_it_must_be(pump_house: Opened) -> None:
    client, shop = pump_house
    page = {"key": "pump-house-v8", "based_on": "1", **form_of(shop.jobs.latest("pump-house-v8").job)}
    assert "= 102.362 mm" in checked(client, "engine.bore", page | {"engine.bore": "4.03 in"})
    assert '<p class="refused">“4” must have a unit' in checked(
        client, "engine.bore", page | {"engine.bore": "4"}
    )
    assert "assumed: 180" in checked(client, "engine.cranking_rpm", page | {"engine.cranking_rpm": ""})
    assert client.post("/check?of=no.such", data=page).status_code == 204


def test_a_field_that_contradicts_another_says_so_and_takes_it_back(pump_house: Opened) -> None:
    client, shop = pump_house
    page = {"key": "pump-house-v8", "based_on": "1", **form_of(shop.jobs.latest("pump-house-v8").job)}
    contradicting = checked(client, "engine.bore", page | {"engine.bore": "35 mm"})
    assert '<div id="said-engine-plug_offset" hx-swap-oob="innerHTML">' in contradicting
    assert "must be less than half the bore, 17.5 mm" in contradicting
    again = checked(client, "engine.bore", page | {"engine.bore": "3.75 in", "refused": "engine-plug_offset"})
    taken_back = again[again.index('id="said-engine-plug_offset"') :]
    assert "refused" not in taken_back
    boosted = checked(client, "induction.kind", page | {"induction.kind": "boosted"})
    assert 'id="said-induction-max_boost"' in boosted


def test_a_field_whose_turn_has_not_come_is_not_asked_for(opened: Opened) -> None:
    client, _ = opened
    said = checked(client, "engine.bore", {"engine.bore": "3.75 in", "engine.stroke": "", "fuel.ron": ""})
    assert "= 95.25 mm" in said
    assert "refused" not in said


def test_a_new_job_sent_twice_is_one_job(opened: Opened) -> None:
    """No answer came, so it was sent again; what was changed meanwhile is a job of its own."""
    client, shop = opened
    word = re.search(r'name="sent_as" value="([0-9a-f]{32})"', client.get("/new").text)
    assert word is not None
    sent = form_of(Job.from_toml(PUMP_HOUSE)) | {"who": "A. Example", "sent_as": word[1]}
    sent["name"] = "Sent twice"
    first, again = (client.post("/new", data=sent, follow_redirects=False) for _ in range(2))
    assert first.headers["location"] == again.headers["location"] == "/jobs/sent-twice/engine"
    other = client.post("/new", data=sent | {"engine.idle_rpm": "820 rpm"}, follow_redirects=False)
    assert other.headers["location"] == "/jobs/sent-twice-2/engine"
    assert shop.jobs.count() == 2
    refused = client.post("/new", data=sent | {"name": ""})
    assert (refused.status_code, f'name="sent_as" value="{word[1]}"' in refused.text) == (422, True)


def test_a_job_file_sent_twice_is_one_job(opened: Opened) -> None:
    client, shop = opened
    word = re.search(r'name="sent_as" value="([0-9a-f]{32})"', client.get("/new/file").text)
    assert word is not None
    sent = {"text": PUMP_HOUSE, "who": "A. Example", "sent_as": word[1]}
    places = {
        client.post("/new/file", data=sent, follow_redirects=False).headers["location"] for _ in range(2)
    }
    assert places == {"/jobs/pump-house-v8"}
    assert shop.jobs.count() == 1


KNOWN_OF_A_FOUR = {
    "name": "Barn four",
    "engine.cylinders": "4",
    "engine.layout": "inline",
    "engine.firing_order": "1 3 4 2",
    "engine.bore": "3.4 in",
    "engine.stroke": "3.5 in",
    "engine.piston": "flat",
    "cam.at_lift": "0.050 in",
    "cam.intake_opens_deg": "5",
    "cam.intake_closes_deg": "40",
    "cam.exhaust_opens_deg": "45",
    "cam.exhaust_closes_deg": "5",
    "fuel.aki": "87",
    "induction.kind": "natural",
    "distributor.rotation": "clockwise",
    "distributor.base_deg": "10",
    "distributor.advance": "locked",
    "pickup.kind": "points",
    "driver.kind": "inductive",
    "who": "A. Example",
}


def test_a_job_is_made_from_what_a_person_knows_and_goes_on_to_what_is_open(opened: Opened) -> None:
    client, shop = opened
    page = client.get("/new").text
    assert all(f'name="{name}"' in page for name in KNOWN_OF_A_FOUR)
    assert 'href="/new?every=1"' in page
    answer = posted(client, "/new", KNOWN_OF_A_FOUR)
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/barn-four/engine")
    assert shop.jobs.latest("barn-four").job.fuel.aki == 87


def test_the_short_form_shows_a_fact_that_is_asked_besides(opened: Opened) -> None:
    """A firing order that fits both numberings of the banks needs one that the form didn't ask for."""
    client, _ = opened
    answer = posted(client, "/new", KNOWN_OF_A_FOUR | {"engine.bank_numbering": "by-bank"})
    assert answer.status_code == 422
    assert 'name="engine.bank_numbering"' in answer.text


def test_one_fact_is_saved_on_a_screen_of_its_own(opened: Opened) -> None:
    client, shop = opened
    posted(client, "/new", KNOWN_OF_A_FOUR)
    page = client.get("/jobs/barn-four/fact/distributor.tip_width").text
    assert_nothing_inline(page)
    form = {"key": "barn-four", "based_on": "1", "who": "A. Example", "distributor.tip_width": "wide"}
    refused = posted(client, "/jobs/barn-four/fact/distributor.tip_width", form)
    assert (refused.status_code, value_of(refused.text, "distributor.tip_width")) == (422, "wide")
    saved = posted(
        client, "/jobs/barn-four/fact/distributor.tip_width", form | {"distributor.tip_width": "6 mm"}
    )
    assert saved.status_code == 303
    assert shop.jobs.latest("barn-four").job.distributor.tip_width_mm == 6
    assert client.get("/jobs/barn-four/fact/pegs.rpm").status_code == 422
