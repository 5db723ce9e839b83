"""The rules of the trade beside a plan, in sentences: what each expects, and where it doesn't hold."""

from __future__ import annotations

from functools import partial

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer

COMMON_PRACTICE = "common practice, no source"

RULE_WORDS: dict[str, tuple[str, str]] = {
    "cranking": (
        "Advance while cranking",
        "a geared starter, high compression or a warm restart wants less, and hand cranking none",
    ),
    "idle-by-cam": (
        "Advance at idle by the cam",
        "an idle with a gear in, with a pump or generator on, or one held up on purpose",
    ),
    "idle-reserve": (
        "Degrees kept below best at idle",
        "a governed engine, which steadies itself by its throttle",
    ),
    "overrun": (
        "Overrun against cruise",
        "engines whose fuel is cut on the overrun, where the spark does nothing",
    ),
    "cruise-total": (
        "Advance at cruise",
        "high compression with a central plug, which burns too quickly, and lean mixtures, which burn slower",
    ),
    "vacuum-share": (
        "What cruise has more than full load",
        "engines that are geared so short that they cruise nearly closed, and manifold vacuum at idle",
    ),
    "cruise-steps": (
        "Steepest rise along cruise",
        "below about 1,200 rpm, where an engine is driven through and not held",
    ),
    "falls-with-load": (
        "Greatest rise from one load to the next",
        "the idle, which is held late on purpose",
    ),
    "full-load-total": (
        "Total at full load",
        "boost, a fuel well short of what the compression asks, and heights where the air is thin",
    ),
    "all-in": (
        "Speed at which the total is all in",
        "engines that knock at low speed, and controllers, which need no end of travel",
    ),
    "mechanical-span": (
        "What speed adds at full load",
        "engines that idle early on a long cam, and stationary ones that know one speed",
    ),
    "torque-peak": (
        "What the top has more than the torque peak",
        "engines with no hump in their torque",
    ),
    "top-end": (
        "What the last quarter of the speed adds",
        "knock-limited engines, whose limit goes on rising with speed",
    ),
    "per-psi": (
        "Degrees off for each psi of boost",
        "strong cooling of the charge, ethanol, and engines that had degrees to spare without boost",
    ),
    "most-anywhere": (
        "Most advance anywhere",
        "a rotor or a limit that allows less, and side-valve engines",
    ),
}
"""For each rule what it is about, and where it doesn't hold."""

REASONS = {
    "knock": "knock holds it there on this fuel",
    "reach": "the rotor reaches no further there",
    "limit": "a limit or peg of the job holds it there",
    "reserve": "the reserve of the idle holds it there",
    "between": "the map has to stay under its ceilings between the cells there",
    "rows": "its row has no speed of its own there",
    "by hand": "it was set by hand there",
    "slow burn": "the charge burns slowly there, so that best itself lies that early",
    "quick burn": "the charge burns quickly there, so that more advance only costs torque",
    "": "the plan gives no reason for it",
}
"""What holds the plan where it leaves a range."""

_SILENT = {
    "boosted": "it is a rule for engines without boost",
    "natural": "it is a rule for boosted engines",
    "cam not known": "no duration of the cam is stated",
    "no load row": "the map has no place for it",
    "never all in": "the line is level from the start",
}


def _rule(
    name: str,
    _: System,
    *,
    silent: str,
    value: float = 0.0,
    low: float = 0.0,
    high: float = 0.0,
    unit: str = "",
    rpm: float = 0.0,
    kpa: float = 0.0,
    reason: str = "",
) -> Said:
    about, not_for = RULE_WORDS[name]
    if silent:
        return f"{about}: not held against, since {_SILENT[silent]}.", ""
    place = f"at {rpm:,.0f} rpm and {kpa:.0f} kPa"
    usual = f"{low:g} to {high:g} {unit} is usual ({COMMON_PRACTICE})"
    if low <= value <= high:
        return f"{about}: {value:.3g} {unit} {place}; {usual}.", ""
    why = REASONS[reason]
    return (
        f"{about}: {value:.3g} {unit} {place}, where {usual}; {why}.",
        f"The rule doesn't hold for {not_for}.",
    )


def _agrees(_: System, *, rules: int, left: int, silent: int) -> Said:
    held = rules - silent
    return f"The plan stands within all {held} rules of the trade that can be held against it.", ""


def _left(_: System, *, rules: int, left: int, silent: int) -> Said:
    held = rules - silent
    return (
        f"The plan leaves {left} of {held} rules of the trade ({COMMON_PRACTICE}).",
        "They change nothing, and the plan stays as it is: read why, and look at those places first with "
        "light and ear.",
    )


WRITERS: dict[str, Writer] = {
    "second-opinion.agrees": _agrees,
    "second-opinion.left": _left,
    **{f"trade-rule.{name}": partial(_rule, name) for name in RULE_WORDS},
}
"""How the rules of the trade are told."""
