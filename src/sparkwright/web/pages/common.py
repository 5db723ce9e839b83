"""What the pages of one job share."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Annotated, Any

from fastapi import Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.shop import Revision, ShopError
from sparkwright.web.reckoning import BusyError, Reckoner
from sparkwright.web.routes import light_of, reckoner_of, shop_of
from sparkwright.web.steps import steps_of
from sparkwright.web.view import Shown, page, person_of

Who = Annotated[str, Form()]
Why = Annotated[str, Form()]


def job_values(request: Request, revision: Revision, here: str) -> dict[str, Any]:
    """Give what the frame of every page of a job shows; begins to reckon what isn't there yet.

    A page that can do without results is shown without them where the queue is full.

    Parameters
    ----------
    request : Request
        The request, for the person's settings.
    revision : Revision
        The revision that the page shows.
    here : str
        Name of the page.
    """
    shop, reckoner = shop_of(request), reckoner_of(request)
    reckoned = reckoner.kept(revision.fingerprint)
    if reckoned is None and not _refused_before(reckoner, revision):
        with suppress(BusyError):
            reckoner.begin(revision.job)
    return {
        "revision": revision,
        "latest": shop.jobs.latest(revision.key).number,
        "here": here,
        "reckoned": reckoned,
        "steps": steps_of(revision, reckoned, light_of(shop, revision), person_of(request).system),
    }


def _refused_before(reckoner: Reckoner, revision: Revision) -> bool:
    work = reckoner.work(revision.fingerprint)
    return work is not None and bool(work.refused)


def latest_number(request: Request, revision: Revision) -> int:
    """Give the number of the latest revision.

    A page that was asked for without a number is about that one; what is saved in the same moment doesn't
    make it an old one.

    Parameters
    ----------
    request : Request
        The request, for the store.
    revision : Revision
        A revision of the job.
    """
    if request.method == "GET" and "number" not in request.query_params:
        return revision.number
    return shop_of(request).jobs.latest(revision.key).number


def job_page(
    request: Request,
    template: str,
    revision: Revision,
    here: str,
    values: dict[str, object] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Write one page of a job.

    Parameters
    ----------
    request : Request
        The request that is answered.
    template : str
        Name of the template.
    revision : Revision
        The revision that the page shows.
    here : str
        Name of the page.
    values : dict, optional
        What the template needs beyond the frame.
    status : int, optional
        Status of HTTP.
    """
    frame = job_values(request, revision, here)
    frame["latest"] = latest_number(request, revision)
    return page(request, template, frame | (values or {}), status)


def show_in_job(
    request: Request, shown: Shown, revision: Revision, here: str, status: int = 200
) -> HTMLResponse:
    """Write one page of a job from what its template gets.

    Parameters
    ----------
    request : Request
        The request that is answered.
    shown : Shown
        What the template gets beyond the frame, and which it is.
    revision : Revision
        The revision that the page shows.
    here : str
        Name of the page.
    status : int, optional
        Status of HTTP.
    """
    return job_page(request, shown.template, revision, here, shown.names(), status)


def show_part(request: Request, shown: Shown, revision: Revision, status: int = 200) -> HTMLResponse:
    """Write a part of a page of a job, which has no frame.

    Parameters
    ----------
    request : Request
        The request that is answered.
    shown : Shown
        What the template gets besides the revision, and which it is.
    revision : Revision
        The revision that the page shows.
    status : int, optional
        Status of HTTP.
    """
    return page(request, shown.template, {"revision": revision, **shown.names()}, status)


def status_of(problem: Exception) -> int:
    """Give the status of a refusal: a full disk (RFC 4918, section 11.5), the store, or what was asked.

    Parameters
    ----------
    problem : Exception
        What was refused or went wrong.
    """
    if not isinstance(problem, ShopError):
        return 422
    return 507 if problem.of_full_disk else 503 if problem.of_database else 422


def went(request: Request, address: str) -> Response:
    """Send the browser on after a post, whether the page posted it itself or a part of it did.

    Parameters
    ----------
    request : Request
        The post that is answered.
    address : str
        Where the browser goes, a path of ours.
    """
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"hx-redirect": address})
    return RedirectResponse(address, 303)


def called(problem: SparkwrightError, labels: Mapping[str, str]) -> list[str]:
    """Give the sentences of a refusal that call each place by its words on the page.

    Parameters
    ----------
    problem : SparkwrightError
        What was refused.
    labels : mapping
        Words by place; other places keep their own.

    Examples
    --------
    >>> called(Refusal.at("seen_deg", None, "must be given"), {"seen_deg": "Seen"})
    ['Seen (not given): must be given']
    """
    if not isinstance(problem, Refusal):
        return list(problem.sentences)
    return [str(replace(each, place=labels.get(each.place, each.place))) for each in problem.problems]


def own_address(address: str) -> str:
    """Refuse to send anybody to another site: an address that isn't a plain path of ours becomes the list.

    Parameters
    ----------
    address : str
        Address as it was sent.
    """
    plain = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if plain and address.isprintable() else "/"


def said_by(who: str) -> str:
    """Require a name for the history.

    Parameters
    ----------
    who : str
        Name as it was typed.
    """
    name = who.strip()
    if not name:
        raise Refusal.at("your name", None, "must be given", "the history says who changed what")
    if len(name) > 80:
        raise Refusal.at("your name", f"{len(name)} letters", "must be at most 80")
    return name
