"""The first map and the second opinion on a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.terminal import STATE_MARKS, headed_by, sentences, state_key, told, told_of
from sparkwright.plan.first_map import FirstMap
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.on_rows import own_cells
from sparkwright.plan.rules_of_the_trade import SecondOpinion
from sparkwright.plan.spark_map import SparkMap
from sparkwright.words.first_map import BEFORE_THE_FIRST_START, WHILE_STEPPING
from sparkwright.words.loads import own_text
from sparkwright.words.map import advance_texts

MAP_TITLE = "Advance, crank degrees before top dead centre, over rpm"


def plain_map(spark_map: SparkMap, width: int, loads: Loads = ABSOLUTE) -> Iterator[Text]:
    """Write a map in as many blocks of columns as the width asks for, loads falling down the page.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    width : int
        Width of the terminal in letters.
    loads : Loads, optional
        In what the rows are headed.
    """
    heads = [own_text(kpa, loads) for kpa in spark_map.kpa.tolist()]
    texts = [[each.replace("nan", "-") for each in row] for row in advance_texts(spark_map.advance_deg)]
    speeds = [f"{rpm:.0f}" for rpm in spark_map.rpm]
    room = 1 + max(len(each) for each in (*speeds, *(text for row in texts for text in row)))
    head = max(room, 1 + max(map(len, (loads.unit, *heads))))
    fit = max(1, (width - head) // room)
    for start in range(0, len(speeds), fit):
        block = Text(
            f"{loads.unit:>{head}}" + "".join(f"{each:>{room}}" for each in speeds[start : start + fit])
        )
        for i in reversed(range(spark_map.kpa.size)):
            cells = "".join(f"{each:>{room}}" for each in texts[i][start : start + fit])
            block.append(f"\n{heads[i]:>{head}}{cells}")
        yield block.append("\n")


def first_map_page(first: FirstMap, width: int, loads: Loads = ABSOLUTE) -> Group:
    """Lay out the first map and the steps to the plan.

    Parameters
    ----------
    first : FirstMap
        The careful map for the first start.
    width : int
        Width of the terminal in letters.
    loads : Loads, optional
        In what the controller has its loads; only its own cells are shown.
    """
    steps: list[RenderableType] = []
    for region in dict.fromkeys(each.region for each in first.steps):
        said = [told_of(each.finding) for each in first.steps if each.region == region]
        steps += told(region.capitalize(), (str(said[0].action), *(each.sentence for each in said)))
    return Group(
        headed_by(first.job_name, first.fingerprint, told_of(first.headline)),
        *told("Problems", sentences(first.problems[1:])),
        *told("Before the first start", BEFORE_THE_FIRST_START),
        Text(f"\n{MAP_TITLE}", style="bold"),
        *plain_map(own_cells(first.spark_map, loads.rows), width, loads),
        *told("At every step", WHILE_STEPPING),
        *steps,
        *told("Look at", sentences(first.warnings)),
    )


def opinion_page(opinion: SecondOpinion) -> Group:
    """Lay out the rules of the trade beside the plan.

    Parameters
    ----------
    opinion : SecondOpinion
        The rules of the trade beside the plan.
    """
    lines: list[RenderableType] = []
    for rule in (*opinion.left, *opinion.others):
        mark, style = STATE_MARKS[rule.finding.state]
        said = told_of(rule.finding)
        line = Text.assemble((f"{mark} ", style), str(said.sentence))
        lines.append(line.append(f" {said.action}") if said.action else line)
    return Group(
        headed_by(opinion.job_name, opinion.fingerprint, told_of(opinion.headline)),
        Text(),
        *lines,
        Text(state_key("not held against"), style="dim"),
    )
