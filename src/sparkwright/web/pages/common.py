"""What the pages of one job share."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from contextlib import suppress
from typing import Annotated, Any

from fastapi import Depends, Form, Request
from fastapi.params import File
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, model_validator
from pydantic_core import PydanticCustomError
from starlette.concurrency import run_in_threadpool

from sparkwright.errors import InputError
from sparkwright.job import Job
from sparkwright.shop import Revision, Shop, ShopError
from sparkwright.web.light_sets import latest_check
from sparkwright.web.reckoning import BusyError, Reckoned, Reckoner
from sparkwright.web.steps import steps_of
from sparkwright.web.view import page

MOST_KEYS = 100
"""Keys that are looked at in anything sent; a choice, far more than any of them knows."""


def shop_of(request: Request) -> Shop:
    """Give the store of this workbench."""
    found = request.app.state.shop
    assert isinstance(found, Shop)
    return found


def reckoner_of(request: Request) -> Reckoner:
    """Give what reckons results for this workbench."""
    found = request.app.state.reckoner
    assert isinstance(found, Reckoner)
    return found


Reckon = Callable[[Job], Reckoned]


def reckon_of(request: Request) -> Reckon:
    """Give what waits for the result of a job, until it is there or this person hangs up."""
    reckoner = reckoner_of(request)
    return lambda job: reckoner.reckon(job, request.receive)


# What a page depends on is given by coroutines, as anything else takes a thread for each.


async def _shop(request: Request) -> Shop:
    return shop_of(request)


async def _reckoner(request: Request) -> Reckoner:
    return reckoner_of(request)


async def _reckon(request: Request) -> Reckon:
    return reckon_of(request)


TheShop = Annotated[Shop, Depends(_shop)]
TheReckoner = Annotated[Reckoner, Depends(_reckoner)]
TheReckon = Annotated[Reckon, Depends(_reckon)]
Who = Annotated[str, Form()]
Why = Annotated[str, Form()]


class OnlyKnown(BaseModel):
    """Takes only keys that it knows; so many that naming each would take long are refused as one."""

    model_config = ConfigDict(extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _few(cls, given: object) -> object:
        if isinstance(given, dict) and len(given) > MOST_KEYS:
            raise PydanticCustomError("too_many_keys", "too many keys", {"most": MOST_KEYS})
        return given


class OfJob(APIRoute):
    """A route of one job: a file for a job that isn't there is not read."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Where a file is taken, look for the job first."""
        handle = super().get_route_handler()
        takes_file = any(isinstance(each.field_info, File) for each in self.dependant.body_params)
        if "key" not in self.param_convertors or not takes_file:
            return handle

        async def look_first(request: Request) -> Response:
            await run_in_threadpool(shop_of(request).latest, request.path_params["key"])
            return await handle(request)

        return look_first


def revision_shown(shop: Shop, key: str, number: int | None) -> Revision:
    """Give the revision a page is about: the one asked for, or the latest."""
    return shop.latest(key) if number is None else shop.revision(key, number)


def job_values(shop: Shop, reckoner: Reckoner, revision: Revision, here: str) -> dict[str, Any]:
    """Give what the frame of every page of a job shows; begins to reckon what isn't there yet.

    A page that can do without results is shown without them where the queue is full.
    """
    reckoned = reckoner.kept(revision.fingerprint)
    if reckoned is None and not _refused_before(reckoner, revision):
        with suppress(BusyError):
            reckoner.begin(revision.job)
    return {
        "revision": revision,
        "latest": shop.latest(revision.key).number,
        "here": here,
        "reckoned": reckoned,
        "steps": steps_of(revision, reckoned, latest_check(shop, revision)),
    }


def _refused_before(reckoner: Reckoner, revision: Revision) -> bool:
    work = reckoner.work(revision.fingerprint)
    return work is not None and bool(work.refused)


def latest_number(request: Request, revision: Revision) -> int:
    """Give the number of the latest revision.

    A page that was asked for without a number is about that one; what is saved in the same moment doesn't
    make it an old one.
    """
    if request.method == "GET" and "number" not in request.query_params:
        return revision.number
    return shop_of(request).latest(revision.key).number


def job_page(
    request: Request,
    template: str,
    revision: Revision,
    here: str,
    values: dict[str, object] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Write one page of a job."""
    frame = job_values(shop_of(request), reckoner_of(request), revision, here)
    frame["latest"] = latest_number(request, revision)
    return page(request, template, frame | (values or {}), status)


def status_of(problem: Exception) -> int:
    """Give the status of a refusal: a full disk (RFC 4918, section 11.5), the store, or what was asked."""
    if not isinstance(problem, ShopError):
        return 422
    return 507 if problem.of_full_disk else 503 if problem.of_database else 422


def went(request: Request, address: str) -> Response:
    """Send the browser on after a post, whether the page posted it itself or a part of it did."""
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"hx-redirect": address})
    return RedirectResponse(address, 303)


def own_address(address: str) -> str:
    """Refuse to send anybody to another site: an address that isn't a plain path of ours becomes the list."""
    plain = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if plain and address.isprintable() else "/"


def said_by(who: str) -> str:
    """Require a name for the history."""
    name = who.strip()
    if not name:
        raise InputError("your name", None, "must be given", "the history says who changed what")
    if len(name) > 80:
        raise InputError("your name", f"{len(name)} letters", "must be at most 80")
    return name
