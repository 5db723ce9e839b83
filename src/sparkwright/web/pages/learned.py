"""What was learned of an engine: in words, as maps before and after, and what to measure next."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparkwright.edit.difference import moved
from sparkwright.evidence.pulls import taught_by
from sparkwright.pictures.difference import moved_picture
from sparkwright.web.learning import learned_for, measured_on, next_for
from sparkwright.web.learning_progress import StoppedError, now
from sparkwright.web.pages.common import job_page
from sparkwright.web.routes import OfJob, TheReckon, TheShop
from sparkwright.web.view import page
from sparkwright.words.dyno import learned_words

router = APIRouter(route_class=OfJob)


@router.get("/jobs/{key}/learned")
def learned(request: Request, shop: TheShop, key: str) -> Response:
    """Show what there is to learn from; what was learned is brought when it is worked out."""
    sweeps = taught_by(measured_on(shop, key))
    return job_page(request, "learned.html", shop.jobs.latest(key), "learned", {"sweeps": sweeps})


@router.get("/jobs/{key}/learned/progress")
def progress(request: Request, shop: TheShop, key: str) -> Response:
    """Say how far learning has come."""
    return page(request, "learned-progress.html", {"told": now.of(shop.jobs.latest(key).fingerprint)})


@router.post("/jobs/{key}/learned/stop")
def stop(request: Request, shop: TheShop, key: str) -> Response:
    """Stop learning at its next step; nothing that was measured is lost."""
    now.stop(shop.jobs.latest(key).fingerprint)
    return page(request, "learned-progress.html", {"told": "Stopping ..."})


@router.get("/jobs/{key}/learned/result")
def result(request: Request, shop: TheShop, reckon: TheReckon, key: str) -> Response:
    """Learn, plan anew, weigh what to measure next, and show it all."""
    job = shop.jobs.latest(key).job
    sweeps = taught_by(measured_on(shop, key))
    try:
        found, planned = learned_for(job, sweeps)
        following = next_for(job, sweeps)
    except StoppedError:
        stopped = {"key": key, "stopped": True}
        if request.headers.get("hx-request") == "true":
            return page(request, "learned-stopped.html", stopped)
        return job_page(
            request, "learned.html", shop.jobs.latest(key), "learned", stopped | {"sweeps": sweeps}
        )
    before = reckon(job).without_hand
    change = moved(before, planned)
    columns = found.spark_map.rpm.tolist()
    loads = found.spark_map.kpa.tolist()
    cells = {(each.rpm, each.kpa): each for each in found.cells}
    values = {
        "key": key,
        "revision": shop.jobs.latest(key),
        "found": found,
        "said": learned_words(found, before),
        "picture": moved_picture(change, "learned-moved", 560.0),
        "narrow": moved_picture(change, "learned-moved-narrow", 360.0),
        "rpm": columns,
        "rows": [(load, [cells[speed, load] for speed in columns]) for load in reversed(loads)],
        "old": {
            (speed, load): float(before.ceilings.best_deg[i, j])
            for i, load in enumerate(loads)
            for j, speed in enumerate(columns)
        },
        "next": following,
    }
    if request.headers.get("hx-request") == "true":
        return page(request, "learned-result.html", values)
    return job_page(request, "learned.html", shop.jobs.latest(key), "learned", values | {"sweeps": sweeps})
