"""What a drive shows, in sentences."""

from __future__ import annotations

from typing import Any

from sparkwright.units import System
from sparkwright.words.log import time_words
from sparkwright.words.parts import Said, Writer


def _read(
    _: System, *, rows: int, running_rows: int, seconds: float, cells: int, of_cells: int, above_rpm: float
) -> Said:
    how_long = "" if seconds != seconds else f" over {time_words(seconds)}"
    return (
        f"{rows:,} rows{how_long}, {running_rows:,} of them with the engine running; "
        f"{cells} of {of_cells} cells were met.",
        "",
    )


def _never_ran(_: System, *, rows: int, above_rpm: float, **__: object) -> Said:
    return (
        f"In none of {rows:,} rows does the engine turn faster than {above_rpm:g} rpm.",
        "Look whether the right column was taken for engine speed; name it with --channel.",
    )


def _place(rpm: float, kpa: float) -> str:
    return f"{rpm:,.0f} rpm and {kpa:.0f} kPa"


def _chance(chance: float | None) -> str:
    """Say how likely it is that chance did it; "" where nothing is known of that."""
    if chance is None or chance >= 0.05:
        return ""
    return f" (by chance: {100 * chance:.2g} %)" if chance >= 1e-5 else " (by chance: under 0.001 %)"


def _of_seconds(count: int, of: int) -> str:
    return f"in {count:,} of {of:,} windows of time"


def _cost(less_deg: float, cost_percent: float) -> str:
    """Say what a change would cost."""
    if cost_percent != cost_percent:
        return f"{less_deg:g} deg less there; what that costs is not determined."
    if cost_percent <= 0.05:
        return f"{less_deg:g} deg less there; it costs no torque worth telling."
    return f"{less_deg:g} deg less there; it costs {cost_percent:.1f} % of torque."


def _elsewhere(places: tuple[tuple[float, ...], ...]) -> str:
    more = len(places) - 1
    return "" if more < 1 else f", and in {more} more cell{'' if more == 1 else 's'}"


BY = {"marks": "by ear", "retard": "by the controller's retard", "level": "by a level that stands out"}


def _knock(
    _: System,
    *,
    by: str,
    rpm: float,
    kpa: float,
    count: int,
    of: int,
    chance: float,
    advance_deg: float,
    less_deg: float,
    cost_percent: float,
    places: tuple[tuple[float, ...], ...],
) -> Said:
    at = "" if advance_deg != advance_deg else f" at {advance_deg:.1f} deg"
    return (
        f"Knock {BY[by]} at {_place(rpm, kpa)}{at}, {_of_seconds(count, of)}{_chance(chance)}"
        f"{_elsewhere(places)}.",
        f"Try {_cost(less_deg, cost_percent)}",
    )


def _misfire_heaped(
    _: System,
    *,
    count: int,
    of: int,
    with_lambda: int,
    rpm: float | None,
    kpa: float | None,
    here: int,
    here_of: int,
    chance: float,
) -> Said:
    return (
        f"The engine stumbles {_around(rpm, kpa)}, {_of_seconds(here, here_of)}{_chance(chance)}, as charges "
        "that don't burn make it.",
        "Look at plugs, leads, gap and mixture there before the timing.",
    )


def _around(rpm: float | None, kpa: float | None) -> str:
    """Say a place of which speed or load may be any."""
    if rpm is not None and kpa is not None:
        return f"at {_place(rpm, kpa)}"
    return f"at {kpa:.0f} kPa, at any speed" if rpm is None else f"at {rpm:,.0f} rpm, at any load"


def _misfire_everywhere(_: System, *, count: int, of: int, with_lambda: int, chance: float) -> Said:
    return (
        f"The engine stumbles {_of_seconds(count, of)}, at no speed or load more than at others"
        f"{_chance(chance)}.",
        "Look at one plug, lead or valve first: what hangs on speed or load heaps up there.",
    )


def _arcing(
    _: System,
    *,
    rpm: float,
    kpa: float,
    count: int,
    of: int,
    chance: float,
    z: float,
    with_deg: float,
    without_deg: float,
    less_deg: float,
    cost_percent: float,
    reach_deg: float,
) -> Said:
    return (
        f"Stumbling grows with advance at the same speed and load, most at {_place(rpm, kpa)}: at "
        f"{with_deg:.1f} deg with it, at {without_deg:.1f} deg without{_chance(chance)}. "
        "The spark may jump under the cap.",
        "Look for tracks in cap and rotor, and at the rotor's phase; until then try "
        f"{_cost(less_deg, cost_percent)}",
    )


def _dropouts(
    _: System,
    *,
    leaps: int,
    losses: float,
    of: int,
    low_rpm: float,
    high_rpm: float,
    chance: float | None,
    places: tuple[tuple[float, ...], ...],
) -> Said:
    seen = []
    if leaps:
        seen.append(f"the speed signal leaps {leaps:,} times")
    if losses:
        seen.append(f"sync is lost {losses:,.0f} times")
    return (
        f"The pickup drops out: {' and '.join(seen)}, between {low_rpm:,.0f} and "
        f"{high_rpm:,.0f} rpm{_chance(chance)}.",
        "Look at its gap, its wires away from the coil's, their screen, and the connectors.",
    )


def _dwell(
    _: System,
    *,
    count: int,
    of: int,
    missing_percent: float,
    from_rpm: float | None,
    battery_v: float,
    usual_v: float,
    low_battery: bool,
    chance: float | None,
    places: object,
) -> Said:
    why = f"on {battery_v:.1f} V of battery" if low_battery else ""
    if not why and from_rpm is not None:
        why = f"from {from_rpm:,.0f} rpm up"
    do = (
        "Look at charging and the battery's leads."
        if low_battery
        else "Ask for less dwell there, or a faster coil."
    )
    return (
        f"The coil gets {missing_percent:.0f} % less dwell than asked for{f' {why}' if why else ''}, "
        f"{_of_seconds(count, of)}{_chance(chance)}.",
        do,
    )


def _ran(
    _: System,
    *,
    inside_percent: float,
    inside_cells: int,
    met_cells: int,
    rpm: float,
    kpa: float,
    top_percent: float,
    steady_percent: float,
    moves: int,
) -> Said:
    steady = "" if steady_percent != steady_percent else f"; {steady_percent:.0f} % of it was steady"
    return (
        f"{inside_percent:.0f} % of driving is inside {inside_cells} of {met_cells} cells met, "
        f"the most of it, {top_percent:.0f} %, at {_place(rpm, kpa)}{steady}.",
        "",
    )


def _never(_: System, *, cells: int, places: tuple[tuple[float, float], ...]) -> Said:
    return (
        f"{cells} cells that a running engine meets were never visited, the first {_place(*places[0])}.",
        "",
    )


def _explained(as_asked_percent: float, explained: tuple[tuple[str, float], ...], rest_percent: float) -> str:
    parts = [f"as asked {as_asked_percent:.0f} %", *(f"{name} {share:.0f} %" for name, share in explained)]
    if rest_percent >= 0.5:
        parts.append(f"unexplained {rest_percent:.0f} %")
    return ", ".join(parts)


def _as_asked(_: System, *, by: str, **shares: Any) -> Said:
    return f"Timing ({by}) against the map, of steady time: {_explained(**shares)}.", ""


def _off(
    _: System,
    *,
    by: str,
    rpm: float,
    kpa: float,
    off_deg: float,
    error_deg: float,
    cells: int,
    places: object,
    **shares: Any,
) -> Said:
    way = "early" if off_deg > 0 else "late"
    return (
        f"Timing ({by}) is {abs(off_deg):.1f} deg {way} of the map at {_place(rpm, kpa)} "
        f"(+-{1.96 * error_deg:.1f}), and off in {cells} cell{'' if cells == 1 else 's'} in all; "
        f"of steady time: {_explained(**shares)}.",
        "Look which table or trim of the controller adds there, and whether this map was loaded.",
    )


def _another_map(_: System, *, by: str, cells: int, **shares: Any) -> Said:
    return (
        f"Timing ({by}) doesn't follow this map; of steady time: {_explained(**shares)}.",
        "Look whether this plan was loaded, and whether the log's advance counts what the base adds.",
    )


def _not_as_commanded(_: System, *, late_deg: float) -> Said:
    way = "later" if late_deg > 0 else "earlier"
    return (
        f"What the engine gets comes {abs(late_deg):.1f} deg {way} than what is commanded.",
        "Prove it with the light.",
    )


def _idle_words(rpm: float, rpm_sigma: float, reserve_up_deg: float, reserve_down_deg: float) -> str:
    left = ""
    if reserve_up_deg == reserve_up_deg:
        left = f"; {reserve_up_deg:.1f} deg are left up to best, {reserve_down_deg:.1f} down"
    return f"at {rpm:,.0f} rpm +-{rpm_sigma:.0f}{left}"


def _idle_steady(_: System, *, seconds: float, **about: float) -> Said:
    return f"It idles steadily {_idle_words(**about)}.", ""


def _idle_wanders(_: System, *, seconds: float, **about: float) -> Said:
    return (
        f"Its idle wanders, without a rhythm, {_idle_words(**about)}.",
        "Look for a lean mixture, false air or a plug that misses before the timing is asked to hold it.",
    )


def _idle_hunts(
    _: System,
    *,
    seconds: float,
    period_s: float,
    amplitude_rpm: float,
    share_percent: float,
    behind_s: float,
    loop: str,
    **about: float,
) -> Said:
    answers = "" if behind_s != behind_s else f"; its timing answers {behind_s:.2f} s later"
    do = (
        "Its timing loop feeds it: less gain, or less delay."
        if loop == "timing"
        else "Its timing doesn't feed it: look at the air valve's loop and at the mixture."
    )
    return (
        f"Its idle hunts by {amplitude_rpm:.0f} rpm every {period_s:.1f} s, {share_percent:.0f} % of its "
        f"movement, {_idle_words(**about)}{answers}.",
        do,
    )


def _idle_at_its_limit(_: System, *, at_limit_percent: float) -> Said:
    return (
        f"The idle's correction stands at its end for {at_limit_percent:.0f} % of the time.",
        "Give it more to add or take, or set air or base so that it works about its middle.",
    )


def _differs(
    _: System,
    *,
    called: str,
    unit: str,
    rpm: float,
    kpa: float,
    difference: float,
    low: float,
    high: float,
    cells: int,
    of_cells: int,
) -> Said:
    return (
        f"Against the other drive, {called} differs in {cells} of {of_cells} cells, the most at "
        f"{_place(rpm, kpa)}: {difference:+.3g} {unit} ({low:+.3g} to {high:+.3g}).",
        "",
    )


WRITERS: dict[str, Writer] = {
    "against.differs": _differs,
    "drive.read": _read,
    "drive.never-ran": _never_ran,
    "knock.heard": _knock,
    "knock.logged": _knock,
    "misfire.heaped": _misfire_heaped,
    "misfire.everywhere": _misfire_everywhere,
    "arcing.suspected": _arcing,
    "pickup.drops-out": _dropouts,
    "dwell.runs-out": _dwell,
    "idle.steady": _idle_steady,
    "idle.wanders": _idle_wanders,
    "idle.hunts": _idle_hunts,
    "idle.at-its-limit": _idle_at_its_limit,
    "where.ran": _ran,
    "where.never": _never,
    "timing.as-asked": _as_asked,
    "timing.off": _off,
    "timing.another-map": _another_map,
    "timing.not-as-commanded": _not_as_commanded,
}
