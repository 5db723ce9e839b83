"""The frame of one job: where to go on, the steps, and the reckoning under way."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sparkwright.web.pages.common import job_values, went
from sparkwright.web.routes import TheReckoner, TheShop, revision_shown
from sparkwright.web.steps import steps_of
from sparkwright.web.view import page

router = APIRouter()


@router.get("/jobs/{key}")
def go_on(shop: TheShop, reckoner: TheReckoner, key: str) -> Response:
    """Go to the step that needs the person next."""
    revision = shop.jobs.latest(key)
    steps = steps_of(revision, reckoner.kept(revision.fingerprint))
    worries = [step.name for step in steps if step.mark == "look"]
    return RedirectResponse(f"/jobs/{key}/{worries[0] if worries else 'map'}", 303)


@router.get("/jobs/{key}/steps")
def steps(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    key: str,
    here: str = "",
    number: int | None = None,
) -> Response:
    """Say anew how the steps stand."""
    revision = revision_shown(shop, key, number)
    return page(request, "steps.html", job_values(request, revision, here))


@router.get("/jobs/{key}/reckoning")
def reckoning(
    request: Request, shop: TheShop, reckoner: TheReckoner, key: str, number: int | None = None
) -> Response:
    """Say how far the reckoning is; once it is done, the page is asked for again."""
    revision = revision_shown(shop, key, number)
    if reckoner.kept(revision.fingerprint) is not None:
        return Response(status_code=204, headers={"hx-refresh": "true"})
    work = reckoner.work(revision.fingerprint) or reckoner.begin(revision.job)
    return page(request, "reckoning.html", {"revision": revision, "work": work})


@router.post("/jobs/{key}/reckoning/stop")
def stop(request: Request, shop: TheShop, reckoner: TheReckoner, key: str, number: int) -> Response:
    """Stop the reckoning."""
    revision = revision_shown(shop, key, number)
    reckoner.stop(revision.fingerprint)
    work = reckoner.work(revision.fingerprint)
    if request.headers.get("hx-request") == "true" and work is not None:
        return page(request, "reckoning.html", {"revision": revision, "work": work})
    return went(request, f"/jobs/{key}/map")


@router.post("/jobs/{key}/reckoning/again")
def again(request: Request, shop: TheShop, reckoner: TheReckoner, key: str, number: int) -> Response:
    """Begin anew what was stopped."""
    revision = revision_shown(shop, key, number)
    reckoner.begin(revision.job)
    return went(request, f"/jobs/{key}/map")
