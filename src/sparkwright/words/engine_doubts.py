"""What is unusual about an engine, in sentences: its firing order and its cam."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length, order_words


def _fits_no_crank(_: System, *, order: Sequence[int]) -> Said:
    return (
        f"No even-firing crank gives the firing order {order_words(order)}: read it again from engine or "
        "book.",
        "",
    )


def _rare_crank(_: System, *, order: Sequence[int], crank: str) -> Said:
    return f"The firing order {order_words(order)} needs a {crank}, unusual in such an engine: sure?", ""


def _mirrored(_: System, *, order: Sequence[int], backwards: Sequence[int]) -> Said:
    return (
        f"The firing order {order_words(order)} needs a crank that turns the other way or is mirrored, as "
        f"in some boats: sure? Read backwards it is {order_words(backwards)}.",
        "",
    )


def _neighbours_follow(_: System, *, order: Sequence[int]) -> Said:
    return (
        f"In the firing order {order_words(order)} neighbours fire one after the other, unusual in a six in "
        "line: sure?",
        "",
    )


def _same_bank(_: System, *, order: Sequence[int]) -> Said:
    return (
        f"In the firing order {order_words(order)} two cylinders of one bank fire one after the other, "
        "unusual in a V6: sure? See how its banks are numbered.",
        "",
    )


def _taken_as_even(_: System) -> Said:
    return (
        "This V6 is taken to fire evenly; many with 90 deg between the banks and shared pins do not. "
        "Turn the rotor from post to post: where they stand 60 deg apart, state that it fires evenly.",
        "",
    )


def _lift_not_given(system: System, *, taken_mm: float) -> Said:
    # Cards everywhere name this lift in inches.
    beside = f" ({length(taken_mm, system, '.2f')})" if system == "metric" else ""
    return (
        f"The lift at which the cam is stated was never given: it is taken as 0.050 in{beside}. Advertised "
        "degrees, counted near the seat, make a far milder cam: read on the card which it is.",
        "",
    )


def _duration(valve: str, duration_deg: float, at_lift_mm: float, system: System) -> str:
    return f"{duration_deg:g} deg of {valve} duration at {length(at_lift_mm, system, 'g')} of lift is"


def _long(system: System, *, valve: str, duration_deg: float, at_lift_mm: float) -> Said:
    return (
        f"{_duration(valve, duration_deg, at_lift_mm, system)} unusual, a racing cam: "
        "sure? See whether the card counts it there or advertises it, counted near the seat.",
        "",
    )


def _short(system: System, *, valve: str, duration_deg: float, at_lift_mm: float) -> Said:
    return (
        f"{_duration(valve, duration_deg, at_lift_mm, system)} unusually short: sure? See "
        "whether the card counts it at 0.050 in.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "firing-order.fits-no-crank": _fits_no_crank,
    "firing-order.rare-crank": _rare_crank,
    "firing-order.mirrored": _mirrored,
    "firing-order.neighbours": _neighbours_follow,
    "firing-order.same-bank": _same_bank,
    "firing-order.taken-as-even": _taken_as_even,
    "cam.lift-not-given": _lift_not_given,
    "cam.long": _long,
    "cam.short": _short,
}
"""How each kind of finding is told."""
