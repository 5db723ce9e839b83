"""The desk as JSON: what it asks, advice without keeping, and cases that are kept."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query
from fastapi.responses import Response
from pydantic import Field

from sparkwright.desk.advice import Advice, advise
from sparkwright.desk.case import Case, spoken
from sparkwright.desk.knowledge import Given
from sparkwright.drawing.true_scale import Paper
from sparkwright.job import Job
from sparkwright.sheets.desk import caller_pdf
from sparkwright.sheets.record import plain, record
from sparkwright.shop import Revision
from sparkwright.web.api import ANSWERS, known_parameters
from sparkwright.web.api_sent import Sent
from sparkwright.web.desk import TheKnowledge, advice_on, found_of, job_of, said
from sparkwright.web.routes import OfJob, OnlyKnown, TheReckoner, TheShop

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)

MOST_AT_ONCE = 100
Name = Annotated[str, Field(max_length=40)]
Words = Annotated[str, Field(max_length=500)]
CaseNumber = Annotated[int, Path(description="Number of the case", ge=1, le=2**31 - 1)]


class OneAnswer(OnlyKnown):
    """An answer, by the ids of question and answer."""

    question: Name
    answer: Name


class Spoken(OnlyKnown):
    """What the caller said."""

    answers: list[OneAnswer] = Field([], description="Answers", max_length=MOST_AT_ONCE)
    cannot: list[Name] = Field(
        [], description="Questions that can't be answered, tests that can't be done", max_length=MOST_AT_ONCE
    )
    own_words: list[Words] = Field(
        [], description="The caller's own words; kept, and counted nowhere", max_length=MOST_AT_ONCE
    )

    def given(self) -> list[Given]:
        """Give the answers as the desk takes them."""
        return [Given.model_construct(question=each.question, answer=each.answer) for each in self.answers]


class Asked(Spoken):
    """A case that isn't kept."""

    job: str = Field("", description="Key of the job that it is about", max_length=120)


class NewCase(Sent):
    """A case to be kept."""

    name: str = Field(description="What it is called", min_length=1, max_length=120)
    job: str = Field("", description="Key of the job that it is about", max_length=120)


class MoreSaid(Sent, Spoken):
    """What is said further in a case."""

    withdraw: list[Annotated[int, Field(ge=1, le=2**31 - 1)]] = Field(
        [], description="Entries to take back: answers, or the outcome", max_length=MOST_AT_ONCE
    )
    closed_as: Name = Field("", description="Id of the cause that was found; closes the case")
    remark: Words = Field("", description="Anything else about the outcome")


def case_record(case: Case) -> dict[str, Any]:
    """Give a case with all its entries as plain data.

    Parameters
    ----------
    case : Case
        The case.
    """
    found: dict[str, Any] = plain(case)
    return {"schema": "urn:sparkwright:case:1", **found, "closed_as": case.closed_as}


def _record(advice: Advice, job: Job | None) -> dict[str, Any]:
    return record("desk", job, advice, warnings=advice.contradictions)


def _job(revision: Revision | None) -> Job | None:
    return revision.job if revision else None


@router.get("/desk", summary="Give what the desk asks")
def questions(knowledge: TheKnowledge) -> dict[str, Any]:
    """List questions, tests and causes with their ids, as they are kept in the files."""
    return {
        "schema": "urn:sparkwright:desk-knowledge:1",
        **{
            name: [each.model_dump(by_alias=True) for each in getattr(knowledge, name)]
            for name in ("questions", "tests", "findings", "causes")
        },
    }


@router.post("/desk", summary="Rank causes and name the next test")
def ask(shop: TheShop, reckoner: TheReckoner, knowledge: TheKnowledge, sent: Asked) -> dict[str, Any]:
    """Advise on what was said; nothing is kept."""
    said(knowledge, answers=sent.given(), cannot=sent.cannot)
    revision = shop.jobs.latest(sent.job) if sent.job else None
    case = spoken(sent.given(), sent.cannot, sent.own_words)
    advice = advise(knowledge, case, found_of(shop, reckoner, revision), shop.cases.closed())
    return _record(advice, _job(revision))


@router.get("/cases", summary="List the cases, the newest first")
def cases(
    shop: TheShop,
    job: Annotated[str, Query(description="Only those of this job", max_length=120)] = "",
    before: Annotated[int | None, Query(description="Only older ones", ge=1, le=2**31 - 1)] = None,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> dict[str, Any]:
    """List cases with their entries; `before` is the number of the last one of the page before."""
    found = shop.cases.newest(limit, job=job or None, before=before)
    return {
        "schema": "urn:sparkwright:cases:1",
        "closed": shop.cases.closed(),
        "cases": [case_record(each) for each in found],
    }


@router.post("/cases", status_code=201, summary="Begin a case")
def new_case(shop: TheShop, sent: NewCase) -> dict[str, Any]:
    """Keep a new case."""
    return case_record(shop.cases.open(sent.name, who=sent.who, job=sent.job or None))


@router.get("/cases/{case}", summary="Give a case")
def one_case(shop: TheShop, case: CaseNumber) -> dict[str, Any]:
    """Give everything that was said in a case, also what was withdrawn."""
    return case_record(shop.cases.case(case))


@router.post("/cases/{case}/entries", status_code=201, summary="Note what was said in a case")
def more_said(shop: TheShop, knowledge: TheKnowledge, case: CaseNumber, sent: MoreSaid) -> dict[str, Any]:
    """Note answers, own words, withdrawals or the outcome, all of it or nothing."""
    entries = said(
        knowledge,
        answers=sent.given(),
        cannot=sent.cannot,
        own_words=sent.own_words,
        withdraw=sent.withdraw,
        closed_as=sent.closed_as,
        remark=sent.remark,
    )
    return case_record(shop.cases.add(case, entries, who=sent.who))


@router.get("/cases/{case}/advice", summary="Rank causes and name the next test")
def advice(shop: TheShop, reckoner: TheReckoner, knowledge: TheKnowledge, case: CaseNumber) -> dict[str, Any]:
    """Advise on a case that is kept."""
    found = shop.cases.case(case)
    revision = job_of(shop, found)
    return _record(advice_on(shop, reckoner, knowledge, found, revision), _job(revision))


@router.get(
    "/cases/{case}/next-test.pdf",
    summary="Give the next test as a sheet to send",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}},
)
def next_test(
    shop: TheShop, reckoner: TheReckoner, knowledge: TheKnowledge, case: CaseNumber, paper: Paper = "a4"
) -> Response:
    """Give the sheet of the test that the desk asks for now, as PDF."""
    found = shop.cases.case(case)
    revision = job_of(shop, found)
    content = caller_pdf(
        advice_on(shop, reckoner, knowledge, found, revision),
        _job(revision),
        paper=paper,
        date=datetime.now().astimezone().strftime("%d %b %Y"),
    )
    return Response(content, media_type="application/pdf")
