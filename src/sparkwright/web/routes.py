"""What the routes of pages and API have in common: store and results to hand, and how strictly they take."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.params import File
from fastapi.responses import Response
from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, model_validator
from pydantic_core import PydanticCustomError
from starlette.concurrency import run_in_threadpool

from sparkwright.evidence.light_sets import latest_check
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.sheets.card_content import Signature
from sparkwright.shop import Revision, Shop
from sparkwright.web.reckoning import Reckoned, Reckoner

MOST_KEYS = 100
"""Keys that are looked at in anything sent; a choice, far more than any of them knows."""


def shop_of(request: Request) -> Shop:
    """Give the store of this workbench.

    Parameters
    ----------
    request : Request
        Any request to this workbench.
    """
    found = request.app.state.shop
    assert isinstance(found, Shop)
    return found


def reckoner_of(request: Request) -> Reckoner:
    """Give what reckons results for this workbench.

    Parameters
    ----------
    request : Request
        Any request to this workbench.
    """
    found = request.app.state.reckoner
    assert isinstance(found, Reckoner)
    return found


Reckon = Callable[[Job], Reckoned]


def reckon_of(request: Request) -> Reckon:
    """Give what waits for the result of a job, until it is there or this person hangs up.

    Parameters
    ----------
    request : Request
        The request of the person who waits.
    """
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
            await run_in_threadpool(shop_of(request).jobs.latest, request.path_params["key"])
            return await handle(request)

        return look_first


def revision_shown(shop: Shop, key: str, number: int | None) -> Revision:
    """Give the revision a page is about: the one asked for, or the latest.

    Parameters
    ----------
    shop : Shop
        The store.
    key : str
        Key of the job.
    number : int or None
        Number of the revision; None for the latest.
    """
    return shop.jobs.latest(key) if number is None else shop.jobs.revision(key, number)


def signature_of(revision: Revision) -> Signature | None:
    """Give how a revision was handed over, for its card; None while it isn't.

    Parameters
    ----------
    revision : Revision
        The revision.
    """
    if revision.handed_over_by is None or revision.handed_over_when is None:
        return None
    return Signature(revision.handed_over_by, day_of(revision), revision.number, revision.signed_for or "")


def day_of(revision: Revision) -> str:
    """Give the day of the signature, or of the change where nobody has signed yet.

    Parameters
    ----------
    revision : Revision
        The revision.
    """
    return (revision.handed_over_when or revision.when).astimezone().strftime("%d %b %Y")


def light_of(shop: Shop, revision: Revision) -> LightResult | None:
    """Judge the newest set of light readings of a job; None while nothing was read.

    Parameters
    ----------
    shop : Shop
        The store.
    revision : Revision
        The revision by whose facts the readings are judged.
    """
    return latest_check(revision.job, shop.evidence.of_job(revision.key, "light-reading"))
