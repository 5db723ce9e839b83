"""History: who changed what and why, any two revisions compared, an old one brought back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from sparkwright.edit.difference import Moved, moved
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import JobText
from sparkwright.shop import (
    Attachment,
    KeptText,
    NotThereError,
    Revision,
    RevisionLine,
    SavedElsewhereError,
    Shop,
)
from sparkwright.shop.compare import ChangedFact, TextLine, changed_facts, changed_lines, seen_between
from sparkwright.shop.joined import Joined, Place, joined
from sparkwright.shop.revision_rows import MOST_NUMBER
from sparkwright.units import System
from sparkwright.web.pages.common import Who, Why, said_by, show_in_job, status_of, went
from sparkwright.web.pages.facts import TypedForm, based_on
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import Reckon, TheReckon, TheShop
from sparkwright.web.view import Shown, person_of
from sparkwright.words.evidence import EvidenceLine, between_words, evidence_lines

router = APIRouter()


A_PAGE = 100
"""Revisions or files on a page."""
HistoryPlace = Annotated[int, Query(ge=0, le=MOST_NUMBER)]
Chosen = tuple[tuple[Place, str], ...]
"""Of facts that two people changed, which of the two values was chosen: "typed" or "stands"."""


@dataclass(frozen=True, kw_only=True)
class HistoryPage(Shown):
    """What the history of a job shows."""

    template = "history.html"

    lines: Sequence[RevisionLine]
    older: int | None
    kept: Sequence[tuple[KeptText, bool]]
    files: Sequence[Attachment]
    more_files: int | None
    evidence: Sequence[EvidenceLine]
    refused: str = ""


@dataclass(frozen=True, kw_only=True)
class ComparePage(Shown):
    """What two revisions beside each other show, or a revision and what is kept beside it."""

    template = "compare.html"

    title: str
    facts: Sequence[ChangedFact]
    lines: Sequence[TextLine]
    moved: Moved
    seen: str = ""
    kept: KeptText | None = None
    met: Sequence[ChangedFact] = ()
    chosen: Mapping[Place, str] = field(default_factory=dict)
    stands: bool = False
    refused: str = ""


@router.get("/jobs/{key}/history")
def history(
    request: Request, shop: TheShop, key: str, before: HistoryPlace = MOST_NUMBER, after: HistoryPlace = 0
) -> Response:
    """List the revisions, what was typed against a newer one, and the files.

    Revisions below the number `before`, files after the one of the number `after`; a page of each.
    """
    shown = _listed(shop, key, person_of(request).system, before, after)
    return show_in_job(request, shown, shop.jobs.latest(key), "history")


def _listed(shop: Shop, key: str, system: System, before: int = MOST_NUMBER, after: int = 0) -> HistoryPage:
    lines = shop.jobs.history(key, before=before, limit=A_PAGE)
    files = shop.files.of_job(key, after=after, limit=A_PAGE + 1)
    return HistoryPage(
        lines=lines,
        older=lines[-1].number if lines and lines[-1].number > 1 else None,
        kept=[(each, _all_in(shop, key, each)) for each in shop.jobs.kept(key)],
        files=files[:A_PAGE],
        more_files=files[A_PAGE - 1].id if len(files) > A_PAGE else None,
        evidence=evidence_lines(shop.evidence.of_job(key, also_withdrawn=True), system),
    )


def _all_in(shop: Shop, key: str, found: KeptText) -> bool:
    """Whether all that was typed stands in the newest revision by now, so that nothing is left to take."""
    try:
        both = _joined(shop, key, found, shop.jobs.latest(key), ())
    except Refusal:
        return False
    return not both.taken and not both.met


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
    texts = JobText(before.text, kept=True), JobText(after.text, kept=True)
    shown = replace(_compared(reckon, title, *texts), seen=between_words(seen))
    return show_in_job(request, shown, shop.jobs.latest(key), "history")


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
    """Show both: what somebody typed while somebody else saved, as it would be taken into what stands now."""
    return _kept_page(request, shop, reckon, key, kept_id)


def _kept_page(
    request: Request,
    shop: Shop,
    reckon: Reckon,
    key: str,
    kept_id: int,
    chosen: Chosen = (),
    refused: str = "",
) -> Response:
    found, latest = _kept_text(shop, key, kept_id), shop.jobs.latest(key)
    title = f"From revision {latest.number} to what {found.who} typed on revision {found.based_on}"
    before = JobText(latest.text, kept=True)
    try:
        both = _joined(shop, key, found, latest, chosen)
    except Refusal as problem:
        # The two can't stand together; what was typed is shown by itself, and can be taken over by hand.
        refused = refused or " ".join(problem.sentences)
        shown = _compared(reckon, title, before, JobText(found.text, kept=True))
    else:
        shown = replace(_compared(reckon, title, before, both.text), met=both.met, stands=True)
    shown = replace(shown, kept=found, chosen=dict(chosen), refused=refused)
    return show_in_job(request, shown, latest, "history", 422 if refused else 200)


def _joined(shop: Shop, key: str, found: KeptText, latest: Revision, chosen: Chosen) -> Joined:
    base = shop.jobs.revision(key, found.based_on)
    began, now, typed = (JobText(each.text, kept=True) for each in (base, latest, found))
    return joined(began, now, typed, [place for place, which in chosen if which == "typed"])


def _compared(reckon: Reckon, title: str, before: JobText, after: JobText) -> ComparePage:
    plans = [reckon(each.job).plan for each in (before, after)]
    return ComparePage(
        title=title,
        facts=changed_facts(before.job, after.job),
        lines=changed_lines(before.text, after.text),
        moved=moved(*plans),
    )


@router.post("/jobs/{key}/kept/{kept_id}/take")
def take_kept(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, kept_id: int, form: TypedForm
) -> Response:
    """Save what stands now with what was kept taken into it; a fact that both changed as it was chosen."""
    found, latest = _kept_text(shop, key, kept_id), shop.jobs.latest(key)
    if based_on(form) != latest.number:
        return went(request, f"/jobs/{key}/kept/{kept_id}")
    chosen = _chosen(form)
    who = said_by(form.get("who", ""))
    try:
        both = _joined(shop, key, found, latest, chosen)
    except Refusal:
        return _kept_page(request, shop, reckon, key, kept_id, chosen)
    left = {(each.section, each.key) for each in both.met} - {place for place, _ in chosen}
    if left:
        refused = "Not saved yet: choose for each fact that you both changed."
        return _kept_page(request, shop, reckon, key, kept_id, chosen, refused)
    why = form.get("why", "").strip() or found.why
    shop.jobs.save(key, both.text.text, who=who, why=why, based_on=latest.number)
    shop.jobs.drop_kept(kept_id)
    return remember(went(request, f"/jobs/{key}/history"), who)


def _chosen(form: dict[str, str]) -> Chosen:
    """Read which of two values was chosen, by fact."""
    fields = ((name.split("|"), which) for name, which in form.items() if name.startswith("choose|"))
    return tuple(((parts[1], parts[2]), which) for parts, which in fields if len(parts) == 3)


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
        shown = replace(_listed(shop, key, person_of(request).system), refused=str(problem))
        return show_in_job(request, shown, shop.jobs.latest(key), "history", status_of(problem))
    return remember(went(request, f"/jobs/{key}/history"), who.strip())
