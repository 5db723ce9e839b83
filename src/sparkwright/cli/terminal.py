"""Results on a terminal: a sentence, what to do, then the numbers. Colour is only an extra."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from rich import box
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from sparkwright.check.assumed import Assumed
from sparkwright.cli.common import own_system
from sparkwright.findings import Finding, Sentence
from sparkwright.numeric import FloatArray
from sparkwright.pictures.hook import chances
from sparkwright.plan.compare import Comparison
from sparkwright.plan.point import in_rows
from sparkwright.plan.result import Hook, PlanResult
from sparkwright.plan.worth import MeasureFirst
from sparkwright.words.assumed import value_words, why_words
from sparkwright.words.map import cell_texts, held_sentence
from sparkwright.words.parts import in_own_units, in_units, own_unit
from sparkwright.words.plan import ABOUT, best_words, chance_words, idle_sentence, over_list
from sparkwright.words.told import STATE_WORDS, Told
from sparkwright.words.told import sentences as sentences_in
from sparkwright.words.told import told as told_in
from sparkwright.words.worth import first_words

HELD_MARKS = {
    "best": " ",
    "knock": "k",
    "reach": "r",
    "reserve": "i",
    "limit": "l",
    "between": "b",
    "rows": "m",
    "by hand": "h",
}
"""One letter beside a cell's number, by what holds it."""

HELD_STYLES = {
    "best": "",
    "knock": "bold",
    "reach": "underline",
    "reserve": "italic",
    "limit": "",
    "between": "",
    "rows": "dim",
    "by hand": "reverse",
}
OVER_MARK = "^"
"""In place of the letter, where a person set the cell over a ceiling."""

CELL_WIDTH = 6
"""Characters of one cell of the map: `25.5k` and a space."""


HELD_KEY = (
    "Beside each value what holds it: k knock, r reach, i idle reserve, l limit, b what lies between cells, "
    "m made of its row's own cells, h by hand; nothing, best."
)
OVER_KEY = f"{OVER_MARK} set by hand over a ceiling."
MOST_OVER = 20
STATE_MARKS = {
    "problem": ("x", "bold yellow"),
    "look": ("!", "yellow"),
    "good": ("+", "cyan"),
    "done": ("+", "cyan"),
    "open": ("o", ""),
}


def state_key(undone: str) -> str:
    """Say what the marks before the findings mean; ``undone`` is what a circle does.

    Parameters
    ----------
    undone : str
        What a circle means here.
    """
    words = STATE_WORDS
    return f"x {words['problem']}, ! {words['look']}, + {words['good']} or done, o {undone}"


def console() -> Console:
    """Give the terminal; colours only where it takes them (and NO_COLOR isn't set)."""
    return Console(highlight=False, soft_wrap=False)


def table(
    title: str, columns: Sequence[str], rows: Iterable[Sequence[str]], *, words: int = 0, tight: bool = False
) -> Group:
    """Build a quiet table under its title; the first `words` columns hold words, the others numbers.

    A tight one has a single space between its columns, for many numbers side by side.

    Parameters
    ----------
    title : str
        What stands over it.
    columns : sequence of str
        Names of its columns; none is written where all are empty.
    rows : iterable of sequence of str
        Its rows, a cell for each column.
    words : int, optional
        How many columns from the left hold words.
    tight : bool, optional
        Whether columns stand close.
    """
    padding = (0, 1, 0, 0) if tight else (0, 1)
    drawn = Table(
        box=None if tight else box.SIMPLE_HEAD, pad_edge=False, show_header=any(columns), padding=padding
    )
    for place, column in enumerate(columns):
        drawn.add_column(column, justify="left" if place < words else "right", overflow="fold")
    for row in rows:
        drawn.add_row(*(Text(cell) for cell in row))
    return Group(Text(title, style="bold"), drawn)


def told_of(finding: Finding) -> Told:
    """Tell a finding in the person's units.

    Parameters
    ----------
    finding : Finding
        What was noticed.
    """
    return told_in(finding, own_system())


def sentences(findings: Iterable[Finding]) -> tuple[Sentence, ...]:
    """Tell the sentences of findings in the person's units.

    Parameters
    ----------
    findings : iterable of Finding
        What was noticed.
    """
    return sentences_in(findings, own_system())


def number(value: float | None, decimals: int = 0) -> str:
    """Write a number; a dash where it is not determined.

    Parameters
    ----------
    value : float or None
        The number; None or nan where it is not determined.
    decimals : int, optional
        Figures behind the point.
    """
    if value is None or not math.isfinite(value):
        return "-"
    return f"{value:z,.{decimals}f}"  # z: what rounds to nought has no sign


def headed(job_name: str, fingerprint: str, headline: str, action: str) -> RenderableType:
    """Say whose result it is, how things stand and what to do.

    Parameters
    ----------
    job_name : str
        Name of the job.
    fingerprint : str
        Of its facts; the first twelve letters are shown.
    headline : str
        How things stand.
    action : str
        What to do; empty for nothing.
    """
    lines = [Text(f"{job_name}  {fingerprint[:12]}", style="dim"), Text(headline, style="bold")]
    return Group(*lines, Text(action)) if action else Group(*lines)


def headed_by(job_name: str, fingerprint: str, lead: Told) -> RenderableType:
    """Say whose result it is, and what leads it.

    Parameters
    ----------
    job_name : str
        Name of the job.
    fingerprint : str
        Of its facts.
    lead : Told
        What leads, as a person reads it.
    """
    return headed(job_name, fingerprint, str(lead.sentence), str(lead.action or ""))


def told(title: str, lines: Iterable[Sentence | str]) -> list[RenderableType]:
    """List sentences under a title; nothing when there are none.

    Parameters
    ----------
    title : str
        What stands over them.
    lines : iterable of Sentence or str
        The sentences.
    """
    found = [in_units(each, own_system()) for each in lines]
    if not found:
        return []
    return [Text(f"\n{title}", style="bold"), *(Padding(Text(each), (0, 0, 0, 2)) for each in found)]


def assumed(values: Iterable[Assumed]) -> list[RenderableType]:
    """List what was taken where nothing was stated.

    Parameters
    ----------
    values : iterable of Assumed
        What was taken, and why.
    """
    system = own_system()
    lines = (
        f"{each.field} = {value_words(each.field, each.value, system)}: "
        f"{why_words(each.field, each.value, each.why, system)}"
        for each in values
    )
    return told("Assumed", lines)


def hook_page(job_name: str, fingerprint: str, hook: Hook) -> Group:
    """Lay out one hook with all its numbers.

    Parameters
    ----------
    job_name : str
        Name of the job.
    fingerprint : str
        Of its facts.
    hook : Hook
        The point, with the plan's own value there.
    """
    system = own_system()
    if math.isnan(hook.knock_limit_deg):
        knock = "it doesn't knock within the tested span"
    elif math.isinf(hook.knock_limit_deg):
        knock = "it knocks at any advance"
    else:
        knock = f"knock starts at {hook.knock_limit_deg:.1f} deg"
    if math.isfinite(hook.knock_ceiling_deg):
        chance = chance_words(hook.knock_chance_allowed_percent).removeprefix(ABOUT)
        knock += f", and has a chance of {chance} at {hook.knock_ceiling_deg:.1f}, the ceiling"
    headline = f"At {hook.rpm:,.0f} rpm and {hook.kpa:g} kPa {best_words(hook, system)}; {knock}."
    facts = [
        ("lambda", number(hook.mixture_lambda, 3)),
        ("99 % of best torque", f"{number(hook.late99_deg, 1)} to {number(hook.early99_deg, 1)} deg"),
        ("residual gas", f"{number(100 * hook.residual_share, 1)} % of the charge"),
        ("charge", f"{number(hook.charge_mg)} mg in each cylinder"),
        ("at intake closing", f"{number(hook.intake_closing_k)} K"),
        ("burn at best", hook.burn_state),
    ]
    facts.insert(0, ("the plan's value", f"{number(hook.plan_deg, 1)} deg"))
    hook = in_rows(hook)
    columns = (
        ("adv.\ndeg", hook.advance_deg, 1),
        (f"torque\n{own_unit('torque', system)}", _own(hook.torque_nm, "torque"), 1),
        ("IMEP\nbar", hook.imep_bar, 2),
        ("knock\nintegral", hook.knock_integral, 2),
        ("chance\n%", chances(hook), 1),
        ("CA10", hook.ca10_deg, 1),
        ("CA50", hook.ca50_deg, 1),
        ("CA90", hook.ca90_deg, 1),
        ("peak\nbar", hook.peak_bar, 1),
        ("at", hook.peak_at_deg, 1),
        (f"at valve\n{own_unit('temperature', system)}", _own(hook.exhaust_c, "temperature"), 0),
        ("burned", hook.burned_share, 3),
        ("gap\nkg/m3", hook.spark_density_kg_m3, 2),
    )
    rows = (
        [
            "plan" if advance_deg == hook.plan_deg else "",
            *(number(values[place], decimals) for _, values, decimals in columns),
        ]
        for place, advance_deg in enumerate(hook.advance_deg)
    )
    return Group(
        headed(job_name, fingerprint, headline, ""),
        Text(),
        table("At this point", ("", ""), facts, words=2),
        table(
            "Hook; angles of burning and peak after top dead centre",
            ["", *(name for name, _, _ in columns)],
            rows,
            tight=True,
        ),
        Text("Knock starts where its column reaches 1.", style="dim"),
        *told("Outside the proven range", sentences(hook.outside)),
    )


def _own(values: FloatArray, dimension: str) -> list[float]:
    """Turn a column into the person's units."""
    return [in_own_units(each, dimension, own_system()) for each in values.tolist()]


def _cell_width(plan: PlanResult) -> int:
    """Room for the longest value or speed, its mark, and a space before the next."""
    longest = max(len(text) for row in cell_texts(plan) for text in row)
    return max(CELL_WIDTH, longest + 2)


def map_blocks(plan: PlanResult, width: int) -> list[Text]:
    """Write the map in as many blocks of columns as the width asks for, loads falling down the page.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    width : int
        Width of the terminal in letters.
    """
    speeds = plan.cells.spark_map.rpm.size
    fit = max(1, width // _cell_width(plan) - 1)
    return [_map_block(plan, range(start, min(start + fit, speeds))) for start in range(0, speeds, fit)]


def _map_block(plan: PlanResult, columns: range) -> Text:
    texts = cell_texts(plan)
    room = _cell_width(plan) - 1
    block = Text(f"{'kPa':>{room - 1}}")
    for column in columns:
        block.append(f"{plan.cells.spark_map.rpm[column]:{room}.0f} ")
    for row in reversed(range(len(texts))):
        block.append(f"\n{plan.cells.spark_map.kpa[row]:{room - 1}.4g}")
        for column in columns:
            held = plan.cells.held_by[row][column]
            block.append(" " * (room - len(texts[row][column])))
            block.append(texts[row][column], style=HELD_STYLES[held])
            block.append(OVER_MARK if plan.cells.over_ceiling[row, column] else HELD_MARKS[held])
    return block.append("\n")


def plan_page(plan: PlanResult, width: int, first: Iterable[MeasureFirst] = ()) -> Group:
    """Lay out the map with what holds each cell, and the lines under it, for a terminal of that width.

    ``first`` are assumed facts to measure first, with what the guess may cost.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    width : int
        Width of the terminal in letters.
    first : iterable of MeasureFirst, optional
        Assumed facts to measure first.
    """
    key = [HELD_KEY, *([OVER_KEY] if plan.cells.over_ceiling.any() else []), held_sentence(plan)]
    return Group(
        headed_by(plan.job_name, plan.fingerprint, told_of(plan.headline)),
        Text(),
        Text("Advance, crank degrees before top dead centre, over rpm", style="bold"),
        *map_blocks(plan, width),
        Text(" ".join(key), style="dim"),
        Text(idle_sentence(plan.idle)),
        *told("Problems", sentences(plan.problems)),
        *told("Set by hand over a ceiling", over_list(plan.over, MOST_OVER)),
        *told("The old curve", sentences(plan.old_curve.findings) if plan.old_curve else ()),
        *told("Look at", sentences(plan.warnings)),
        *told("Measure first", [first_words(each, own_system()) for each in first]),
        *assumed(plan.assumed),
    )


def comparison_page(result: Comparison, most_rows: int = 40) -> Group:
    """Lay out a map held against the plan.

    Parameters
    ----------
    result : Comparison
        The map beside the plan.
    most_rows : int, optional
        Cells over a ceiling that are listed before the rest is only counted.
    """
    rows = [
        (
            cell.ceiling,
            number(cell.rpm),
            number(cell.kpa, 1),
            number(cell.advance_deg, 1),
            number(cell.ceiling_deg, 1),
            number(cell.over_deg, 1),
        )
        for cell in result.over
    ]
    names = ("ceiling", "rpm", "kPa", "advance", "ceiling deg", "over by")
    more = (
        [f"{len(rows) - most_rows} more cells are in the output of --json."] if len(rows) > most_rows else []
    )
    shown: list[RenderableType] = (
        [Text(), table("Cells over a ceiling", names, rows[:most_rows], words=1)] if rows else []
    )
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        *told("Problems", sentences(result.problems[1:])),
        *shown,
        *(Text(each, style="dim") for each in more),
        *told("Look at", sentences(result.warnings)),
    )
