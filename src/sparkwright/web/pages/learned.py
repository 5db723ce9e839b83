"""What was learned of an engine: in words, as maps before and after, and what to measure next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.dyno.sweep import Sweep
from sparkwright.edit.difference import moved
from sparkwright.learn.next_runs import NextResult
from sparkwright.learn.result import LearnedCell, LearnResult
from sparkwright.pictures.difference import moved_picture
from sparkwright.web.learning import measured_on
from sparkwright.web.learning_progress import StoppedError, far_words
from sparkwright.web.pages.common import show_in_job
from sparkwright.web.routes import OfJob, TheReckon, TheShop
from sparkwright.web.view import Shown, page
from sparkwright.words.dyno import learned_words

router = APIRouter(route_class=OfJob)


@dataclass(frozen=True, kw_only=True)
class LearnedPage(Shown):
    """What the page shows while what was learned is being worked out."""

    template = "learned.html"

    sweeps: Sequence[Sweep]


@dataclass(frozen=True, kw_only=True)
class LearnedStopped(LearnedPage):
    """What it shows where a person has stopped it."""

    key: str
    stopped: bool = True


@dataclass(frozen=True, kw_only=True)
class LearnedResult(LearnedPage):
    """What it shows once that is there."""

    key: str
    found: LearnResult
    said: Sequence[str]
    picture: Picture
    narrow: Picture
    rpm: Sequence[float]
    rows: Sequence[tuple[float, Sequence[LearnedCell]]]
    old: Mapping[tuple[float, float], float]
    next: NextResult


@router.get("/jobs/{key}/learned")
def learned(request: Request, shop: TheShop, key: str) -> Response:
    """Show what there is to learn from; what was learned is brought when it is worked out."""
    sweeps = measured_on(shop, key).sweeps
    return show_in_job(request, LearnedPage(sweeps=sweeps), shop.jobs.latest(key), "learned")


@router.get("/jobs/{key}/learned/progress")
def progress(request: Request, shop: TheShop, key: str) -> Response:
    """Say how far learning has come."""
    told = far_words(shop.learning_runs, shop.jobs.latest(key).fingerprint)
    return page(request, "learned-progress.html", {"told": told})


@router.post("/jobs/{key}/learned/stop")
def stop(request: Request, shop: TheShop, key: str) -> Response:
    """Stop learning at its next step; nothing that was measured is lost."""
    asked = shop.learning_runs.stop(shop.jobs.latest(key).fingerprint)
    told = "Stopping ..." if asked else "Nothing is being worked out just now."
    return page(request, "learned-progress.html", {"told": told})


@router.get("/jobs/{key}/learned/result")
def result(request: Request, shop: TheShop, reckon: TheReckon, key: str) -> Response:
    """Learn, plan anew, weigh what to measure next, and show it all."""
    measured, revision = measured_on(shop, key), shop.jobs.latest(key)
    part = request.headers.get("hx-request") == "true"
    try:
        found, planned, following = measured.learned_and_next()
    except StoppedError:
        if part:
            return page(request, "learned-stopped.html", {"key": key})
        return show_in_job(request, LearnedStopped(sweeps=measured.sweeps, key=key), revision, "learned")
    before = reckon(measured.job).without_hand
    change = moved(before, planned)
    columns = found.spark_map.rpm.tolist()
    loads = found.spark_map.kpa.tolist()
    cells = {(each.rpm, each.kpa): each for each in found.cells}
    shown = LearnedResult(
        key=key,
        sweeps=measured.sweeps,
        found=found,
        said=learned_words(found, before),
        picture=moved_picture(change, "learned-moved", 560.0),
        narrow=moved_picture(change, "learned-moved-narrow", 360.0),
        rpm=columns,
        rows=[(load, [cells[speed, load] for speed in columns]) for load in reversed(loads)],
        old={
            (speed, load): float(before.cells.ceilings.best_deg[i, j])
            for i, load in enumerate(loads)
            for j, speed in enumerate(columns)
        },
        next=following,
    )
    if part:
        return page(request, "learned-result.html", shown.names())
    return show_in_job(request, shown, revision, "learned")
