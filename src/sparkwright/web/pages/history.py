"""History: who changed what and why, any two revisions compared, an old one brought back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from sparkwright.edit.difference import moved
from sparkwright.errors import SparkwrightError
from sparkwright.job import JobText
from sparkwright.shop import KeptText, NotThereError, SavedElsewhereError, Shop
from sparkwright.shop.compare import changed_facts, changed_lines, seen_between
from sparkwright.shop.revisions import MOST_NUMBER
from sparkwright.web.field_words import label_of_fact
from sparkwright.web.pages.common import Reckon, TheReckon, TheShop, Who, Why, job_page, said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.words.evidence import between_words, evidence_lines

router = APIRouter()


A_PAGE = 100
"""Revisions or files on a page."""
Place = Annotated[int, Query(ge=0, le=MOST_NUMBER)]


@router.get("/jobs/{key}/history")
def history(
    request: Request, shop: TheShop, key: str, before: Place = MOST_NUMBER, after: Place = 0
) -> Response:
    """List the revisions, what was typed against a newer one, and the files.

    Revisions below the number `before`, files after the one of the number `after`; a page of each.
    """
    values = _listed(shop, key, before, after)
    return job_page(request, "history.html", shop.jobs.latest(key), "history", values)


def _listed(
    shop: Shop, key: str, before: int = MOST_NUMBER, after: int = 0, refused: str = ""
) -> dict[str, object]:
    lines = shop.jobs.history(key, before=before, limit=A_PAGE)
    files = shop.files.of_job(key, after=after, limit=A_PAGE + 1)
    return {
        "lines": lines,
        "older": lines[-1].number if lines and lines[-1].number > 1 else None,
        "kept": shop.jobs.kept(key),
        "files": files[:A_PAGE],
        "more_files": files[A_PAGE - 1].id if len(files) > A_PAGE else None,
        "refused": refused,
        "evidence": evidence_lines(shop.evidence.of_job(key, also_withdrawn=True)),
    }


@router.get("/jobs/{key}/text")
def text(shop: TheShop, key: str, number: int) -> Response:
    """Give a revision's job file."""
    revision = shop.jobs.revision(key, number)
    name = f"{key}-revision-{number}.toml"
    return Response(
        revision.text,
        media_type="text/plain; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.get("/jobs/{key}/compare")
def compare(request: Request, shop: TheShop, reckon: TheReckon, key: str, old: int, new: int) -> Response:
    """Show what changed from one revision to another: the facts, then the map."""
    before, after = shop.jobs.revision(key, old), shop.jobs.revision(key, new)
    title = f"From revision {old} to revision {new}"
    seen = seen_between(shop.evidence.of_job(key, also_withdrawn=True), before.when, after.when)
    old_text, new_text = JobText(before.text, kept=True), JobText(after.text, kept=True)
    values = {"seen": between_words(seen)}
    return _compared(request, shop, reckon, key, title, old_text, new_text, values)


def _kept_text(shop: Shop, key: str, kept_id: int) -> KeptText:
    found = next((each for each in shop.jobs.kept(key) if each.id == kept_id), None)
    if found is None:
        raise NotThereError(
            f"there is no text {kept_id} kept beside this job; it may have been taken or dropped in another "
            "window, see its history"
        )
    return found


@router.get("/jobs/{key}/kept/{kept_id}")
def kept(request: Request, shop: TheShop, reckon: TheReckon, key: str, kept_id: int) -> Response:
    """Show both: what was typed while somebody else saved, against what they saved."""
    found = _kept_text(shop, key, kept_id)
    latest = shop.jobs.latest(key)
    title = f"From revision {latest.number} to what {found.who} typed on revision {found.based_on}"
    values = {"kept": found}
    return _compared(
        request,
        shop,
        reckon,
        key,
        title,
        JobText(latest.text, kept=True),
        JobText(found.text, kept=True),
        values,
    )


def _compared(
    request: Request,
    shop: TheShop,
    reckon: Reckon,
    key: str,
    title: str,
    before: JobText,
    after: JobText,
    values: Mapping[str, object] | None = None,
) -> Response:
    plans = [reckon(each.job).plan for each in (before, after)]
    shown: dict[str, object] = {
        "title": title,
        "facts": changed_facts(before.job, after.job),
        "lines": changed_lines(before.text, after.text),
        "label": label_of_fact,
        "moved": moved(*plans),
        "kept": None,
        "seen": "",
    }
    return job_page(request, "compare.html", shop.jobs.latest(key), "history", {**shown, **(values or {})})


@router.post("/jobs/{key}/kept/{kept_id}/take")
def take_kept(
    request: Request,
    shop: TheShop,
    key: str,
    kept_id: int,
    based_on: Annotated[int, Form()],
    who: Who = "",
    why: Why = "",
) -> Response:
    """Save what was kept as the newest revision; what stands there now stays in the history."""
    found = _kept_text(shop, key, kept_id)
    shop.jobs.save(key, found.text, who=said_by(who), why=why.strip() or found.why, based_on=based_on)
    shop.jobs.drop_kept(kept_id)
    return remember(went(request, f"/jobs/{key}/history"), who.strip())


@router.post("/jobs/{key}/kept/{kept_id}/drop")
def drop_kept(request: Request, shop: TheShop, key: str, kept_id: int) -> Response:
    """Let go of what was kept."""
    shop.jobs.drop_kept(_kept_text(shop, key, kept_id).id)
    return went(request, f"/jobs/{key}/history")


@router.post("/jobs/{key}/bring-back")
def bring_back(
    request: Request,
    shop: TheShop,
    key: str,
    number: Annotated[int, Form()],
    based_on: Annotated[int, Form()],
    who: Who = "",
    why: Why = "",
) -> Response:
    """Bring an old revision back as a new one."""
    reason = why.strip() or f"Brought revision {number} back"
    try:
        shop.jobs.bring_back(key, number, who=said_by(who), why=reason, based_on=based_on)
    except SavedElsewhereError as elsewhere:
        return went(request, f"/jobs/{key}/kept/{elsewhere.kept.id}")
    except SparkwrightError as problem:
        values = _listed(shop, key, refused=str(problem))
        return job_page(request, "history.html", shop.jobs.latest(key), "history", values, 422)
    return remember(went(request, f"/jobs/{key}/history"), who.strip())
