"""The job file: what is read is what was meant, and what is written reads back the same."""

import json
import pickle
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic.fields import FieldInfo

from sparkwright.errors import WHOLE, PhysicsError, Problem, Refusal
from sparkwright.job import Job, job_schema, key_tables, starter_text
from sparkwright.job.field_kind import Choice, FieldKind, Moment, Number, Quantity, Text, YesNo
from sparkwright.job.list_kinds import Numbers, Pairs, Points
from sparkwright.job.problems import section_of
from sparkwright.job.rows_kind import Rows
from sparkwright.job.sections.section import field_kind_of

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
BENCH = (Path(__file__).parents[1] / "data" / "bench.toml").read_text(encoding="utf-8")


def every_field() -> list[tuple[str, str, FieldInfo]]:
    """Give section, attribute and description of every value that a job can hold."""
    found = []
    for name, info in Job.model_fields.items():
        section = section_of(info)
        if section is None:
            found.append(("", name, info))
        else:
            found += [(name, attribute, field) for attribute, field in section.model_fields.items()]
    return found


EVERY_FIELD = every_field()
IDS = [f"{section}.{attribute}" for section, attribute, _ in EVERY_FIELD]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_load_say_that_they_are_invented_and_read_back(path: Path) -> None:
    job = Job.load(path)
    assert path.read_text(encoding="utf-8").startswith("# INVENTED.")
    assert job.invented
    assert Job.from_toml(job.to_toml()) == job


def test_there_are_three_examples() -> None:
    assert [path.stem for path in EXAMPLES] == ["boosted-six", "old-four", "pump-house-v8"]


@pytest.mark.parametrize(
    ("line", "section", "attribute", "expected"),
    [
        ('bore = "3.75 in"', "engine", "bore_mm", 95.25),
        ('bore = "95.25 mm"', "engine", "bore_mm", 95.25),
        ('intake_temperature = "170 degF"', "induction", "intake_temperature_c", 230 / 3),
        ('altitude = "4757.217847769 ft"', "site", "altitude_m", 1450.0),
        ('secondary_resistance = "9000 ohm"', "coil", "secondary_kohm", 9.0),
        ('secondary_capacitance = "0.08 nF"', "coil", "secondary_pf", 80.0),
        ('drop = "1200 mV"', "driver", "drop_v", 1.2),
        ('spark_spacing = "1000 us"', "driver", "spark_spacing_ms", 1.0),
        ('vacuum = [["10 inHg", 8]]', "old_curve", "vacuum", [(33.86389, 8.0)]),
    ],
)
def test_units_are_converted_once_at_the_door(line: str, section: str, attribute: str, expected: Any) -> None:
    """Exact by the definitions of inch, foot, degree and SI prefix; inHg from NIST SP 811 (2008)."""
    facts = tomllib.loads(BENCH)
    facts.setdefault(section, {}).update(tomllib.loads(line))
    if section == "old_curve":
        facts[section] |= {"initial_deg": 6, "mechanical": [[500, 0]]}
    value = getattr(getattr(Job.model_validate(facts), section), attribute)
    # Half a unit in the last of the seven digits that the foot and the inch of mercury are given with.
    assert np.asarray(value) == pytest.approx(np.asarray(expected), rel=5e-7)


def test_ten_psi_of_boost() -> None:
    """68.94757 kPa: NIST SP 811 (2008), appendix B.8, 7 digits."""
    job = Job.from_toml(BENCH).changed("induction", kind="boosted", max_boost="10 psi")
    assert job.induction.max_boost_kpa == pytest.approx(68.94757, rel=5e-7)


def test_stated_and_assumed_are_told_apart() -> None:
    job = Job.from_toml(BENCH + '\n[battery]\nrunning = "13.8 V"\n')
    assert job.stated("battery", "running_v")
    assert not job.stated("battery", "cranking_v")
    assert not job.stated("site", "altitude_m")
    assert not job.stated("old_curve", "initial_deg")
    assumed = [str(each) for each in job.assumptions()]
    assert "battery.cranking = 9.5 V" in assumed
    assert "battery.running = 13.8 V" not in assumed
    assert "distributor.rotor_phase_deg = 0" in assumed
    assert "driver.controls_dwell = yes" in assumed


def test_unknown_is_none_and_never_zero() -> None:
    job = Job.from_toml(BENCH)
    assert job.engine.rod_mm is None
    assert job.site.altitude_m is None
    assert job.distributor.rotor_screws_secured is None
    assert job.engine.say("rod_mm") == "not given"


def test_assumptions_say_why() -> None:
    for assumption in Job.from_toml(BENCH).assumptions():
        assert "assumed" in assumption.why


def test_the_fingerprint_is_of_facts_not_of_spelling() -> None:
    job = Job.from_toml(BENCH)
    same = BENCH.replace('"3.921 in"', '"99.5934 mm"').replace("9.0", "9").replace('"4 mH"', '"4000 uH"  # x')
    assert Job.from_toml(same).fingerprint == job.fingerprint
    assert job.changed("engine", bore="3.931 in").fingerprint != job.fingerprint
    assert job.changed("battery", running="13.8 V").fingerprint != job.fingerprint
    assert len(job.fingerprint) == 64


def test_changed_takes_a_key_out_and_checks() -> None:
    job = Job.from_toml(BENCH)
    assert job.changed("engine", rod="5.7 in").changed("engine", rod=None) == job
    with pytest.raises(Refusal, match="must not stand beside rod"):
        job.changed("engine", rod="5.7 in", rod_ratio=1.6)


def test_a_job_can_not_be_changed_in_place() -> None:
    job = Job.from_toml(BENCH)
    with pytest.raises(ValueError, match="frozen"):
        job.engine.bore_mm = 100.0


@pytest.mark.parametrize(
    "refusal",
    [
        Refusal.at("engine.bore", '"0 mm"', "must be above 0", "measure it"),
        PhysicsError("rpm", 0, "must be above 0"),
        Refusal([Problem("one", WHOLE, "is a folder"), Problem("two", None, "must be given")]),
    ],
)
def test_refusals_cross_to_another_process_whole(refusal: Exception) -> None:
    again = pickle.loads(pickle.dumps(refusal))
    assert type(again) is type(refusal)
    assert vars(again) == vars(refusal)
    assert str(again) == str(refusal)


def test_a_byte_order_mark_is_no_obstacle(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BENCH.replace("\n", "\r\n").encode())
    assert Job.load(path) == Job.from_toml(BENCH)


# Round trip of drawn jobs


def a_number(number: Number) -> st.SearchStrategy[float]:
    if number.whole:
        return st.integers(int(number.low), int(number.high))
    return st.floats(number.low, number.high)


def rising(numbers: list[float]) -> list[float]:
    return sorted(set(numbers))


def a_value(field_kind: FieldKind) -> st.SearchStrategy[Any]:
    """Draw what a person could write for one kind of value."""
    match field_kind:
        case Quantity():
            return st.floats(field_kind.low, field_kind.high).map(field_kind.write)
        case Number():
            return a_number(field_kind)
        case Numbers():
            values = st.lists(
                a_number(field_kind.each), min_size=field_kind.least + 2, max_size=field_kind.most
            )
            return values.map(rising).filter(lambda found: len(found) >= field_kind.least)
        case Choice():
            return st.sampled_from(field_kind.options)
        case YesNo():
            return st.booleans()
        case Text():
            return st.text(min_size=1, max_size=field_kind.most).filter(
                lambda text: text.isprintable() and bool(text.strip())
            )
        case Moment():
            return st.one_of(st.dates(), st.datetimes()).map(lambda moment: moment.isoformat())
        case Rows() if field_kind.own:
            numbers = st.lists(a_number(field_kind.each), min_size=2, max_size=5, unique=True).map(sorted)
            heads = st.lists(a_number(field_kind.head), min_size=field_kind.least, max_size=5, unique=True)
            return heads.flatmap(
                lambda found: st.lists(numbers, min_size=len(found), max_size=len(found)).map(
                    lambda own: [[head, *each] for head, each in zip(sorted(found), own, strict=True)]
                )
            )
        case Rows():
            heads = st.lists(a_number(field_kind.head), min_size=field_kind.least, max_size=5, unique=True)
            return st.tuples(heads, st.lists(a_number(field_kind.each), min_size=1, max_size=4)).map(
                lambda drawn: [[head, *drawn[1]] for head in sorted(drawn[0])]
            )
        case Pairs():
            return st.permutations(range(1, 5)).map(lambda order: [list(order[:2])])
        case Points():
            pairs = st.lists(st.tuples(a_number(Number(0, 90, "")), a_number(Number(0, 60, ""))), min_size=1)
            vacuum = isinstance(field_kind.first, Quantity)
            return pairs.map(
                lambda found: [
                    [f"{first!r} kPa" if vacuum else first, second]
                    for first, second in sorted(dict(found).items())[: field_kind.most]
                ]
            )
    raise AssertionError(f"no way to draw {field_kind}")


# Facts that others must agree with are drawn one at a time, on a job where they may stand.
LONERS = {"cylinders", "firing", "kind", "firing_order", "cap_order", "mixture_kpa", "mixture_lambda"}


@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_what_is_written_reads_back_the_same(data: st.DataObject) -> None:
    facts = tomllib.loads(BENCH)
    for section, attribute, info in data.draw(st.lists(st.sampled_from(EVERY_FIELD), min_size=1, max_size=6)):
        field_kind = field_kind_of(info)
        assert field_kind is not None
        if attribute in LONERS or section in ("pegs", "hand", "old_curve"):
            continue
        target = facts.setdefault(section, {}) if section else facts
        target[info.alias or attribute] = data.draw(a_value(field_kind), label=attribute)
    job = job_or_none(facts)
    if job is not None:
        again = Job.from_toml(job.to_toml())
        assert again == job
        assert again.fingerprint == job.fingerprint


def job_or_none(facts: dict[str, Any]) -> Job | None:
    """Give the job, or None where the drawn values contradict one another."""
    try:
        return Job.model_validate(facts)
    except ValueError:
        return None


@pytest.mark.parametrize(("section", "attribute", "info"), EVERY_FIELD, ids=IDS)
@given(data=st.data())
@settings(max_examples=10, deadline=None)
def test_each_value_reads_back_the_same(
    section: str, attribute: str, info: FieldInfo, data: st.DataObject
) -> None:
    field_kind = field_kind_of(info)
    assert field_kind is not None
    value = field_kind.read(data.draw(a_value(field_kind)))
    assert field_kind.read(field_kind.write(value)) == value


@given(text=st.text(max_size=200))
def test_any_text_in_the_note_survives(text: str) -> None:
    facts = tomllib.loads(BENCH)
    facts["note"] = text
    job = job_or_none(facts)
    if job is not None:
        assert Job.from_toml(job.to_toml()).note == text


# What helps the person who writes the file


@pytest.mark.parametrize(("section", "attribute", "info"), EVERY_FIELD, ids=IDS)
def test_every_value_is_explained_and_its_example_is_good(
    section: str, attribute: str, info: FieldInfo
) -> None:
    assert info.description
    assert info.description.rstrip().endswith(".")
    assert info.examples
    field_kind = field_kind_of(info)
    assert field_kind is not None
    field_kind.read(info.examples[0])


def test_the_starter_is_valid_as_it_stands() -> None:
    assert Job.from_toml(starter_text()).engine.bore_mm == 99.5934


@pytest.mark.parametrize(("section", "attribute", "info"), EVERY_FIELD, ids=IDS)
def test_the_starter_explains_every_key(section: str, attribute: str, info: FieldInfo) -> None:
    text = starter_text()
    start = text.index(f"[{section}]") if section else 0
    end = text.find("\n\n", start) if section else text.index("[engine]")
    keys = [line.removeprefix("# ").split(" = ")[0] for line in text[start:end].splitlines() if " = " in line]
    assert (info.alias or attribute) in keys


@pytest.mark.parametrize("section", ["pegs", "old_curve", "shop", "customer"])
def test_sections_that_the_starter_comments_out_are_good_when_put_in(section: str) -> None:
    text = starter_text()
    start = text.index(f"# [{'[' if section == 'pegs' else ''}{section}]")
    end = text.find("\n\n", start)
    block = text[start:] if end < 0 else text[start:end]
    lines = [line.removeprefix("# ") for line in block.splitlines() if " = " in line or "[" in line[:4]]
    job = Job.from_toml(text + "\n" + "\n".join(lines) + "\n")
    assert getattr(job, section)


def test_the_documented_keys_are_current() -> None:
    """Write them again with `python scripts/write_docs.py`."""
    page = (ROOT / "docs" / "job-file.md").read_text(encoding="utf-8")
    assert page.endswith(key_tables())


def test_the_published_schema_is_current() -> None:
    """Write it again with `python scripts/write_docs.py`."""
    published = (ROOT / "docs" / "job.schema.json").read_text(encoding="utf-8")
    assert json.loads(published) == json.loads(json.dumps(job_schema()))


def faults(text: str) -> list[str]:
    """What an editor would mark in a job file."""
    judge = jsonschema.Draft202012Validator(job_schema())
    return [fault.message for fault in judge.iter_errors(tomllib.loads(text))]


def test_the_schema_is_itself_good() -> None:
    jsonschema.Draft202012Validator.check_schema(job_schema())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_agree_with_the_schema(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8")) == []


def test_the_starter_agrees_with_the_schema() -> None:
    assert faults(starter_text()) == []


@pytest.mark.parametrize(
    "line",
    ["bore = 4.0", 'bore = "4.00"', 'bore = "4.00 psi"', "cylinders = 5", 'chamber = "wegde"', "bor = 1"],
)
def test_the_schema_refuses_what_the_program_refuses(line: str) -> None:
    facts = tomllib.loads(BENCH)
    facts["engine"].update(tomllib.loads(line))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(facts, job_schema())
