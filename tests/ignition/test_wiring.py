"""The list of wiring and preparation; all of it common practice, no source."""

from dataclasses import replace

import pytest

from sparkwright.ignition.wiring import ITEMS, WiringFacts, checklist

UNKNOWN = WiringFacts(
    pickup="two-wire",
    driver="inductive",
    controls_dwell=True,
    ballast_ohm=None,
    advance_locked=None,
    vacuum_sealed=None,
    polarity_checked=None,
    twisted_pair=None,
    away_from_plug_leads=None,
    other_leads_on_coil=None,
    rotor_screws_secured=None,
    cap_vented=None,
    cap_order_agrees=None,
    kept_apart=((3, 4),),
)


def states(facts: WiringFacts) -> dict[str, str]:
    return {item.key: item.state for item in checklist(facts)}


def test_what_nobody_said_stays_open() -> None:
    assert states(UNKNOWN) == {
        "advance-locked": "open",
        "module-inside": "open",
        "vacuum-sealed": "open",
        "pickup-polarity": "open",
        "pickup-twisted": "open",
        "pickup-away": "open",
        "no-ballast": "open",
        "rotor-screws": "open",
        "cap-order": "open",
        "leads-apart": "open",
        "cap-vented": "open",
    }


@pytest.mark.parametrize(
    ("fact", "key"),
    [
        ("advance_locked", "advance-locked"),
        ("vacuum_sealed", "vacuum-sealed"),
        ("polarity_checked", "pickup-polarity"),
        ("twisted_pair", "pickup-twisted"),
        ("away_from_plug_leads", "pickup-away"),
        ("rotor_screws_secured", "rotor-screws"),
        ("cap_vented", "cap-vented"),
        ("cap_order_agrees", "cap-order"),
    ],
)
def test_each_fact_settles_its_item(fact: str, key: str) -> None:
    for answer, state in ((True, "done"), (False, "look"), (None, "open")):
        facts = replace(UNKNOWN)
        object.__setattr__(facts, fact, answer)
        assert states(facts)[key] == state


def test_a_ballast_counts_only_with_dwell_control() -> None:
    assert states(replace(UNKNOWN, ballast_ohm=1.4))["no-ballast"] == "look"
    assert states(replace(UNKNOWN, ballast_ohm=0.0))["no-ballast"] == "done"
    assert "no-ballast" not in states(replace(UNKNOWN, ballast_ohm=1.4, controls_dwell=False))


def test_a_capacitive_driver_shares_its_coil_with_nothing() -> None:
    capacitive = replace(UNKNOWN, driver="capacitive")
    assert states(capacitive)["capacitive-alone"] == "open"
    assert states(replace(capacitive, other_leads_on_coil=True))["capacitive-alone"] == "look"
    assert states(replace(capacitive, other_leads_on_coil=False))["capacitive-alone"] == "done"
    assert "no-ballast" not in states(capacitive)
    assert "capacitive-alone" not in states(UNKNOWN)


def test_each_pickup_has_its_own_items() -> None:
    two_wire, hall, points = (
        set(states(replace(UNKNOWN, pickup=kind))) for kind in ("two-wire", "hall", "points")
    )
    assert {"pickup-polarity", "pickup-twisted"} <= two_wire
    assert "hall-supply" in hall
    assert "points-condition" in points
    assert not {"pickup-polarity", "pickup-twisted"} & (hall | points)


def test_leads_to_keep_apart_are_named() -> None:
    named = next(item for item in checklist(UNKNOWN) if item.key == "leads-apart")
    assert named.what.endswith("kept apart: 3 and 4.")
    assert "leads-apart" not in states(replace(UNKNOWN, kept_apart=()))
    assert states(replace(UNKNOWN, kept_apart=None))["leads-apart"] == "open"


def test_every_item_says_what_why_and_how() -> None:
    assert len({item.key for item in ITEMS}) == len(ITEMS)
    for item in ITEMS:
        for text in (item.what, item.why, item.prove):
            assert text.endswith(".")
            assert len(text) > 20
