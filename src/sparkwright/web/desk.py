"""What the desk's page and the desk's API share: advice on a case, with what is known of its job."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

from fastapi import Depends, Request

from sparkwright.desk.advice import Advice, advise
from sparkwright.desk.case import Case, Entry
from sparkwright.desk.knowledge import Given, Knowledge
from sparkwright.desk.noticed import Found, found_on
from sparkwright.shop import Revision, Shop
from sparkwright.web.drives import newest_drive
from sparkwright.web.reckoning import Reckoner
from sparkwright.web.routes import light_of


async def _knowledge(request: Request) -> Knowledge:
    found = request.app.state.knowledge
    assert isinstance(found, Knowledge)
    return found


TheKnowledge = Annotated[Knowledge, Depends(_knowledge)]


def job_of(shop: Shop, case: Case) -> Revision | None:
    """Give the job that a case is about; None where it is none of the shop's.

    Parameters
    ----------
    shop : Shop
        The store.
    case : Case
        The case.
    """
    return shop.jobs.latest(case.job) if case.job else None


def advice_on(
    shop: Shop, reckoner: Reckoner, knowledge: Knowledge, case: Case, revision: Revision | None
) -> Advice:
    """Advise on a case, counting what the program found on the engine of its job.

    Parameters
    ----------
    shop : Shop
        The store.
    reckoner : Reckoner
        What reckons plans and checks.
    knowledge : Knowledge
        What the desk knows.
    case : Case
        The case with what was said.
    revision : Revision or None
        The job that it is about; None where it is about none.
    """
    return advise(knowledge, case, found_of(shop, reckoner, revision), shop.cases.closed())


def found_of(shop: Shop, reckoner: Reckoner, revision: Revision | None) -> Found:
    """Give what was found on an engine: by check and light, by plan and newest drive where they are there.

    Parameters
    ----------
    shop : Shop
        The store.
    reckoner : Reckoner
        What reckons plans and checks.
    revision : Revision or None
        The job; None, of which nothing is found.
    """
    if revision is None:
        return {}
    light, drive = light_of(shop, revision), newest_drive(shop, revision)
    kept = reckoner.kept(revision.fingerprint)
    if kept is None:
        return found_on(revision.job, light, drive=drive)
    return found_on(revision.job, light, kept.plan, kept.check, drive)


def said(
    knowledge: Knowledge,
    *,
    answers: Iterable[Given] = (),
    cannot: Iterable[str] = (),
    own_words: Iterable[str] = (),
    withdraw: Iterable[int] = (),
    closed_as: str = "",
    remark: str = "",
) -> list[Entry]:
    """Make entries of what was sent, each checked against what the desk knows.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows, against which all is checked.
    answers : iterable of Given, optional
        Answers to tests.
    cannot : iterable of str, optional
        Tests that can't be made.
    own_words : iterable of str, optional
        What was said in the caller's own words.
    withdraw : iterable of int, optional
        Numbers of entries that don't count any longer.
    closed_as : str, optional
        Cause with which the case is closed; "" leaves it open.
    remark : str, optional
        What is noted beside it; "" for nothing.

    Raises
    ------
    Refusal
        For an answer, a question or a cause that the desk doesn't know.
    """
    given = list(answers)
    for each in given:
        knowledge.require_known(each.question, each.answer)
    not_answered = list(cannot)
    for question in not_answered:
        knowledge.require_question(question)
    if closed_as:
        knowledge.require_cause(closed_as)
    words = [" ".join(each.split()) for each in own_words]
    return [
        *(Entry(0, "answer", each.question, each.answer) for each in given),
        *(Entry(0, "cannot", each) for each in not_answered),
        *(Entry(0, "words", text=each) for each in words if each),
        *(Entry(0, "withdrawn", withdraws=each) for each in withdraw),
        *([Entry(0, "closed", answer=closed_as, text=" ".join(remark.split()))] if closed_as else []),
    ]
