"""The desk on a terminal: one question or test at a time, and the ranked causes with bars."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.terminal import number, table, told, told_of
from sparkwright.desk.advice import Advice, Choice, TestNow
from sparkwright.desk.knowledge import Knowledge
from sparkwright.words.desk import LICENSED, NOT_FORESEEN, caution_texts, percent_words

BAR_WIDTH = 20
MOST_CAUSES = 6
HOW = (
    "Type the number of the answer, or numbers where several hold. Or: skip, back, causes, end; tests lists "
    "what may be measured already, typed as coil-feed=low. Other words are kept as they are."
)


def desk_page(advice: Advice, *, short: bool = False) -> Group:
    """Lay out how a case stands: sentence, causes, and the next test with all that its sheet tells.

    Parameters
    ----------
    advice : Advice
        What the desk advises.
    short : bool
        Whether the test was shown just before and is left out.
    """
    lead = told_of(advice.headline)
    parts: list[RenderableType] = []
    if advice.case is not None:
        parts.append(Text(f"Case {advice.case}", style="dim"))
    parts += [
        Text(str(lead.sentence), style="bold"),
        Text(str(lead.action or "")),
        Text(),
        causes_page(advice),
    ]
    if advice.closed_as is not None:
        parts += told("Closed", [f"It was: {advice.closed_as}"])
    parts += told("Can't be right together", _contradictions(advice))
    parts += told("Counts", [_counted(each.asked, each.words, each.entry) for each in advice.answers])
    parts += told("Found by the program", [told_of(each.finding).sentence for each in advice.noticed])
    parts += told("In the caller's own words", advice.own_words)
    if advice.own_words:
        parts.append(Text(f"  {NOT_FORESEEN}", style="dim"))
    not_known = [_counted(each.asked, each.words, each.entry) for each in advice.not_known]
    parts += told("Kept, but not asked any more: counts nowhere", not_known)
    if advice.question is not None:
        parts += _asked(advice.question.ask, advice.question.id, advice.question.answers)
    if advice.test is not None and not short:
        parts += _test(advice.test)
        parts += told("After it, or where it can't be done", [each.name for each in advice.further])
    if advice.test is None and advice.leading.mend and advice.answers:
        parts += told("To mend it, once proved", [advice.leading.mend])
        parts += told("Cautions", caution_texts(advice.leading.cautions))
    elif advice.test is None or short:
        parts += ["", Text(LICENSED, style="dim")]
    return Group(*parts)


def causes_page(advice: Advice) -> Group:
    """Lay out the most probable causes, each with a bar.

    Parameters
    ----------
    advice : Advice
        What the desk advises.
    """
    rows = [
        (each.name, "#" * round(BAR_WIDTH * each.probability), percent_words(each.probability))
        for each in advice.causes[:MOST_CAUSES]
    ]
    return table("Causes", ("cause", "", "probability"), rows, words=2)


def tests_page(knowledge: Knowledge) -> Group:
    """List every test with its answers, as `--answer` and the dialogue take them.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    """
    wide = max(len(f"{test.id}={answer.id}") for test in knowledge.tests for answer in test.answers)
    lines: list[RenderableType] = []
    for test in knowledge.tests:
        lines.append(Text(test.name, style="bold"))
        lines += [Text(f"  {f'{test.id}={each.id}':<{wide}}  {each.words}") for each in test.answers]
    return Group(*lines)


def asked_page(advice: Advice) -> Group:
    """Lay out the one thing that is asked now.

    Parameters
    ----------
    advice : Advice
        What the desk advises.
    """
    parts: list[RenderableType] = [*told("Can't be right together", _contradictions(advice))]
    if advice.question is not None:
        parts += _asked(advice.question.ask, "", advice.question.answers)
    elif advice.test is not None:
        parts += [Text(f"\n{told_of(advice.headline).sentence}"), *_test(advice.test)]
    return Group(*parts, Text(HOW, style="dim"))


def _contradictions(advice: Advice) -> list[str]:
    found = [told_of(each) for each in advice.contradictions]
    return [f"{each.sentence} {each.action or ''}".strip() for each in found]


def _counted(asked: str, words: str, entry: int | None) -> str:
    return f"{asked}{'' if asked.endswith('?') else ':'} {words}" + (
        f" (entry {entry})" if entry is not None else " (by the program)"
    )


def _asked(ask: str, name: str, answers: tuple[Choice, ...]) -> list[RenderableType]:
    wide = max(len(each.id) for each in answers)
    lines = [
        f"{place:>3}  {each.id.ljust(wide) + '  ' if name else ''}{each.words}"
        for place, each in enumerate(answers, 1)
    ]
    title = f"\n{ask}" + (f"  (--answer {name}=...)" if name else "")
    return [Text(title, style="bold"), *(Text(each) for each in lines)]


def _test(test: TestNow) -> list[RenderableType]:
    about = f"Next test: {test.name}, {number(test.minutes)} minutes"
    return [
        Text(f"\n{about}", style="bold"),
        *told("Before you begin", caution_texts(test.cautions)),
        *told("To hand", test.tools),
        *told("The test", test.how),
        *told("Expected", [test.expected]),
        *_asked("What does it show?", test.id, test.answers),
    ]
