"""The desk: cases, and one question at a time with big keys, for a phone at the engine."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Path, Query, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.desk.advice import Advice, CauseNow
from sparkwright.desk.case import Case, Entry
from sparkwright.desk.knowledge import SOMETHING_ELSE, BenchTest, Caution, Given, Knowledge
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.true_scale import Paper
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.pictures.desk import parts_picture
from sparkwright.sheets.desk import caller_html, caller_pdf
from sparkwright.shop import NotThereError, Revision, Shop
from sparkwright.shop.facts import JobLine
from sparkwright.web.desk import TheKnowledge, advice_on, job_of, said
from sparkwright.web.pages.common import Who, said_by, status_of, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.reckoning import Reckoner
from sparkwright.web.routes import TheReckoner, TheShop
from sparkwright.web.view import Shown, person_of, show
from sparkwright.words.assumed import stated_words
from sparkwright.words.desk import LICENSED, NOT_FORESEEN, caution_texts, percent_words

router = APIRouter()

SHOWN_CASES = 50
SHOWN_CAUSES = 6
OFFERED_JOBS = 200
SHEET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'"
"""The sheet to send is one page that carries its own style and no script."""

CaseNumber = Annotated[int, Path(ge=1, le=2**31 - 1)]
Text = Annotated[str, Form()]
Before = Annotated[int | None, Query(ge=1, le=2**31 - 1)]


@dataclass(frozen=True, kw_only=True)
class DeskPage(Shown):
    """What the page of all cases shows."""

    template = "desk.html"

    cases: Sequence[Case]
    more: int | None
    cause_names: Mapping[str, str]
    left_out: Sequence[str]
    jobs: Sequence[JobLine]
    job: str
    name: str
    who: str
    refused: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class CasePage(Shown):
    """What the page of one case shows."""

    template = "desk-case.html"

    case: Case
    revision: Revision | None
    advice: Advice
    causes: Sequence[CauseNow]
    all_causes: Sequence[CauseNow]
    percent_words: Callable[[float], str] = percent_words
    caution_texts: Callable[[Iterable[Caution]], Sequence[str]] = caution_texts
    picture: Picture | None
    cautions: Sequence[str]
    stated: Sequence[str]
    licensed: str = LICENSED
    not_foreseen: str = NOT_FORESEEN
    closings: Sequence[Entry]
    skipped: Sequence[Entry]
    asked_words: Mapping[str, str]
    undone: Sequence[BenchTest]
    refused: Sequence[str]
    words: str
    remark: str
    who: str


@router.get("/desk")
def desk_page(
    request: Request, shop: TheShop, knowledge: TheKnowledge, job: str = "", before: Before = None
) -> Response:
    """Offer a new case, and list those that there are."""
    return _cases_page(request, shop, knowledge, job=job, before=before)


@router.post("/desk")
def open_case(
    request: Request,
    shop: TheShop,
    knowledge: TheKnowledge,
    name: Text = "",
    job: Text = "",
    who: Who = "",
) -> Response:
    """Begin a case."""
    try:
        by = said_by(who)
        case = shop.cases.open(name, who=by, job=job or None)
    except SparkwrightError as problem:
        return _cases_page(
            request, shop, knowledge, job=job, name=name, who=who, refused=problem, status=status_of(problem)
        )
    return remember(went(request, f"/desk/{case.id}"), by)


def _cases_page(
    request: Request,
    shop: Shop,
    knowledge: Knowledge,
    *,
    job: str,
    name: str = "",
    who: str = "",
    refused: SparkwrightError | None = None,
    before: int | None = None,
    status: int = 200,
) -> HTMLResponse:
    found = shop.cases.newest(SHOWN_CASES + 1, before=before)
    shown = DeskPage(
        cases=found[:SHOWN_CASES],
        more=found[SHOWN_CASES - 1].id if len(found) > SHOWN_CASES else None,
        cause_names={each.id: each.name for each in knowledge.causes} | {SOMETHING_ELSE: "something else"},
        left_out=tuple(str(each) for each in knowledge.left_out),
        jobs=shop.jobs.lines(limit=OFFERED_JOBS),
        job=job,
        name=name,
        who=who or person_of(request).name,
        refused=refused.sentences if refused else (),
    )
    return show(request, shown, status)


@router.get("/desk/{case}")
def case_page(
    request: Request, shop: TheShop, reckoner: TheReckoner, knowledge: TheKnowledge, case: CaseNumber
) -> Response:
    """Show how a case stands, and ask the one thing that comes next."""
    return _case_page(request, shop, reckoner, knowledge, shop.cases.case(case))


@router.post("/desk/{case}")
def note(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    knowledge: TheKnowledge,
    case: CaseNumber,
    question: Text = "",
    answer: Annotated[list[str] | None, Form()] = None,
    cannot: Text = "",
    seen: Text = "",
    words: Text = "",
    withdraw: Annotated[int | None, Form()] = None,
    closed_as: Text = "",
    remark: Text = "",
    who: Who = "",
) -> Response:
    """Note what was said, and go on with the case."""
    try:
        by = said_by(who)
        entries = said(
            knowledge,
            answers=_answers(question, [] if cannot else answer or [], seen),
            cannot=[cannot] if cannot else [],
            own_words=[words],
            withdraw=[] if withdraw is None else [withdraw],
            closed_as=closed_as,
            remark=remark,
        )
        if not entries:
            raise Refusal.at("answer", None, "must be chosen, or said in words", "or press the key below it")
        shop.cases.add(case, entries, who=by)
    except NotThereError:
        raise
    except SparkwrightError as problem:
        kept = shop.cases.case(case)
        return _case_page(
            request,
            shop,
            reckoner,
            knowledge,
            kept,
            refused=problem.sentences,
            words=words,
            remark=remark,
            who=who,
            status=status_of(problem),
        )
    return remember(went(request, f"/desk/{case}"), by)


@router.post("/desk/{case}/who")
def name_person(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    knowledge: TheKnowledge,
    case: CaseNumber,
    who: Who = "",
) -> Response:
    """Keep the name of who goes on with a case, so that no form of it asks again."""
    try:
        by = said_by(who)
    except Refusal as problem:
        kept = shop.cases.case(case)
        return _case_page(
            request, shop, reckoner, knowledge, kept, refused=problem.sentences, status=status_of(problem)
        )
    return remember(went(request, f"/desk/{case}"), by)


def _answers(question: str, answers: Iterable[str], seen: str) -> list[Given]:
    """Give the answers to what was asked, and one to a test that was done before anybody asked for it."""
    test, _, showed = seen.partition("=")
    pairs = [(question, each) for each in answers] + ([(test, showed)] if seen else [])
    return [Given.model_construct(question=asked, answer=each) for asked, each in pairs]


def _case_page(
    request: Request,
    shop: Shop,
    reckoner: Reckoner,
    knowledge: Knowledge,
    case: Case,
    *,
    refused: Sequence[str] = (),
    words: str = "",
    remark: str = "",
    who: str = "",
    status: int = 200,
) -> HTMLResponse:
    revision = job_of(shop, case)
    advice = advice_on(shop, reckoner, knowledge, case, revision)
    test = advice.test
    shown = CasePage(
        case=case,
        revision=revision,
        advice=advice,
        causes=advice.causes[:SHOWN_CAUSES],
        all_causes=sorted(advice.causes, key=lambda each: each.name),
        picture=parts_picture(test.at, about=test.name) if test else None,
        cautions=caution_texts(test.cautions if test else advice.leading.cautions),
        stated=stated_words(revision.job, test.states, person_of(request).system)
        if test and revision
        else (),
        closings=[each for each in case.standing if each.kind == "closed"],
        skipped=[each for each in case.standing if each.kind == "cannot"],
        undone=_undone(knowledge, case, advice),
        asked_words={name: each.ask for name, each in knowledge.askable.items()},
        refused=refused,
        words=words,
        remark=remark,
        who=who.strip() or person_of(request).name,
    )
    return show(request, shown, status)


def _undone(knowledge: Knowledge, case: Case, advice: Advice) -> list[BenchTest]:
    """Give the tests that may have been done without the desk's asking."""
    done = {each.question for each in case.given}
    asked = advice.test.id if advice.test and not advice.question else ""
    return [each for each in knowledge.tests if each.id not in done and each.id != asked]


@router.get("/desk/{case}/next-test.pdf")
def sheet_file(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    knowledge: TheKnowledge,
    case: CaseNumber,
    paper: Paper = "a4",
) -> Response:
    """Give the next test as PDF, to print or to send."""
    kept = shop.cases.case(case)
    revision = job_of(shop, kept)
    content = caller_pdf(
        advice_on(shop, reckoner, knowledge, kept, revision),
        revision.job if revision else None,
        paper=paper,
        date=datetime.now().astimezone().strftime("%d %b %Y"),
        system=person_of(request).system,
    )
    return Response(
        content,
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="case-{case}-next-test.pdf"'},
    )


@router.get("/desk/{case}/next-test.html")
def sheet_page(
    request: Request, shop: TheShop, reckoner: TheReckoner, knowledge: TheKnowledge, case: CaseNumber
) -> Response:
    """Give the next test as one page that needs nothing else, to send."""
    kept = shop.cases.case(case)
    revision = job_of(shop, kept)
    text = caller_html(
        advice_on(shop, reckoner, knowledge, kept, revision),
        revision.job if revision else None,
        system=person_of(request).system,
    )
    return HTMLResponse(text, headers={"content-security-policy": SHEET_POLICY})
