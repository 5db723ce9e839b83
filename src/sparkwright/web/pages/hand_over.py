"""Hand over: the card, the cautions acknowledged, and the signature that fixes a revision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.drawing.true_scale import Paper
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.findings import Finding, Sentence
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.sheets.card import card_html, card_pdf
from sparkwright.sheets.card_content import CAUTIONS
from sparkwright.shop import Revision
from sparkwright.units import System
from sparkwright.web.days import settings_kept
from sparkwright.web.learning import measured_of
from sparkwright.web.pages.common import Who, said_by, show_in_job, status_of, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.reckoning import Reckoned, Work
from sparkwright.web.routes import (
    TheReckon,
    TheReckoner,
    TheShop,
    day_of,
    light_of,
    revision_shown,
    signature_of,
)
from sparkwright.web.view import Shown, person_of
from sparkwright.words.hand_over import worries_of
from sparkwright.words.told import told

router = APIRouter()

CARD_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:; frame-ancestors 'self'"
)
"""The card is one page that carries its own style and no script."""


@dataclass(frozen=True)
class ToRead:
    """One thing to be read and ticked before signing: what a form sends back for it, and its sentence."""

    mark: str
    sentence: Sentence
    worries: bool


def to_acknowledge(
    reckoned: Reckoned, job: Job, light: LightResult | None, system: System = "metric"
) -> tuple[ToRead, ...]:
    """Everything a person must have read before signing: what worries in this job, then the cautions.

    Parameters
    ----------
    reckoned : Reckoned
        Plan and check of the job.
    job : Job
        The job.
    light : LightResult or None
        What the timing light proved; None where none was read.
    system : System, optional
        Units that the person reads.
    """
    worries = worries_of(reckoned.plan, reckoned.check, job, light)
    cautions = (ToRead(f"caution.{key}", Sentence(text), False) for key, text in CAUTIONS.items())
    return (*(ToRead(_mark(each), told(each, system).sentence, True) for each in worries), *cautions)


def _mark(finding: Finding) -> str:
    """Name a finding with its numbers: where one of them has moved since, it is to be read again."""
    numbers = sha256(repr(sorted(finding.numbers.items())).encode()).hexdigest()
    return f"{finding.kind} {numbers[:12]}"


@dataclass(frozen=True, kw_only=True)
class HandOverPage(Shown):
    """What the page that hands over shows."""

    template = "hand-over.html"

    work: Work | None
    to_read: Sequence[ToRead]
    worries: int
    refused: str = ""
    who: str = ""
    signed_for: str = ""
    read: Sequence[str] = ()


@router.get("/jobs/{key}/hand-over")
def hand_over_page(
    request: Request, shop: TheShop, reckoner: TheReckoner, key: str, number: int | None = None
) -> Response:
    """Show the card, and ask for the signature; an old revision shows how it was signed."""
    return _page(request, shop, reckoner, revision_shown(shop, key, number))


@router.post("/jobs/{key}/hand-over")
def hand_over(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    reckon: TheReckon,
    key: str,
    number: Annotated[int, Form()],
    who: Who = "",
    signed_for: Annotated[str, Form()] = "",
    read: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Sign a revision off; from then on it is fixed."""
    revision = shop.jobs.revision(key, number)
    wanted = to_acknowledge(reckon(revision.job), revision.job, light_of(shop, revision))
    try:
        missing = [each for each in wanted if each.mark not in (read or [])]
        if missing:
            raise Refusal.at(
                "cautions",
                f"{len(wanted) - len(missing)} of {len(wanted)} ticked",
                "must all be read and ticked",
            )
        shop.jobs.hand_over(
            key,
            number,
            who=said_by(who),
            acknowledged=[str(each.sentence) for each in wanted],
            signed_for=signed_for.strip(),
        )
    except SparkwrightError as problem:
        typed = {"refused": str(problem), "who": who, "signed_for": signed_for, "read": read or []}
        return _page(request, shop, reckoner, revision, typed, status_of(problem))
    signed = f"/jobs/{key}/hand-over"
    if number != shop.jobs.latest(key).number:
        signed += f"?number={number}"
    return remember(went(request, signed), who.strip())


def _page(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    revision: Revision,
    typed: Mapping[str, Any] | None = None,
    status: int = 200,
) -> HTMLResponse:
    reckoned = reckoner.kept(revision.fingerprint)
    system = person_of(request).system
    wanted = to_acknowledge(reckoned, revision.job, light_of(shop, revision), system) if reckoned else ()
    shown = HandOverPage(
        work=None if reckoned else reckoner.begin(revision.job),
        to_read=wanted,
        worries=sum(each.worries for each in wanted),
        **(typed or {}),
    )
    return show_in_job(request, shown, revision, "hand-over", status)


@router.get("/jobs/{key}/card")
def card_page(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, number: int | None = None
) -> Response:
    """Give the card as a page of its own."""
    revision = revision_shown(shop, key, number)
    reckoned = reckon(revision.job)
    light = light_of(shop, revision)
    text = card_html(
        reckoned.plan,
        reckoned.check,
        revision.job,
        date=day_of(revision),
        light=light,
        signature=signature_of(revision),
        measured=measured_of(shop, revision, person_of(request).system),
        system=person_of(request).system,
        settings=settings_kept(revision.job, reckoned),
    )
    return HTMLResponse(text, headers={"content-security-policy": CARD_POLICY})


@router.get("/jobs/{key}/card.pdf")
def card_file(
    request: Request,
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    number: int | None = None,
    paper: Paper = "a4",
) -> Response:
    """Give the card as PDF."""
    revision = revision_shown(shop, key, number)
    reckoned = reckon(revision.job)
    content = card_pdf(
        reckoned.plan,
        reckoned.check,
        revision.job,
        paper=paper,
        date=day_of(revision),
        light=light_of(shop, revision),
        signature=signature_of(revision),
        measured=measured_of(shop, revision, person_of(request).system),
        system=person_of(request).system,
        settings=settings_kept(revision.job, reckoned),
    )
    return Response(
        content,
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{key}-revision-{revision.number}.pdf"'},
    )
