"""The list of jobs, and new ones from a file."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response

from sparkwright.errors import WHOLE, Refusal, SparkwrightError
from sparkwright.job.toml import MOST_BYTES
from sparkwright.shop.facts import JobLine
from sparkwright.web.pages.common import Who, Why, said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.view import Shown, show

router = APIRouter()

A_PAGE = 50


@dataclass(frozen=True, kw_only=True)
class JobsPage(Shown):
    """What the list of jobs shows: a page of it, and the key behind which the next begins."""

    template = "jobs.html"

    lines: Sequence[JobLine]
    count: int
    find: str
    more: str


@dataclass(frozen=True, kw_only=True)
class NewFilePage(Shown):
    """What the page that takes a job file shows."""

    template = "new-file.html"

    refused: Sequence[str] = ()
    who: str = ""
    why: str = ""
    text: str = ""
    sent_as: str


@router.get("/")
def jobs(request: Request, shop: TheShop, find: str = "", after: str = "") -> Response:
    """List the jobs with their state, the latest change first."""
    find = find[:80]
    lines = shop.jobs.lines(search=find, limit=A_PAGE + 1, after=after or None)
    shown = lines[:A_PAGE]
    more = shown[-1].key if len(lines) > A_PAGE else ""
    return show(request, JobsPage(lines=shown, count=shop.jobs.count(search=find), find=find, more=more))


@router.post("/new/file")
def new_from_file(
    request: Request,
    shop: TheShop,
    who: Who = "",
    why: Why = "",
    text: Annotated[str, Form()] = "",
    sent_as: Annotated[str, Form()] = "",
    file: UploadFile | None = None,
) -> Response:
    """Take a job file, uploaded or pasted."""
    refused: list[str] = []
    try:
        if file is not None and file.filename:
            text = _text_of(file)
        reason = why.strip() or "Brought in from a job file"
        saved = shop.jobs.create(text, who=said_by(who), why=reason, sent_as=sent_as or None)
    except SparkwrightError as problem:
        refused = list(problem.sentences)
    else:
        return remember(went(request, f"/jobs/{saved.key}"), who.strip())
    return show(request, NewFilePage(refused=refused, who=who, why=why, text=text, sent_as=sent_as), 422)


@router.get("/new/file")
def new_from_file_page(request: Request) -> Response:
    """Offer to bring a job in from a file."""
    return show(request, NewFilePage(sent_as=secrets.token_hex(16)))


def _text_of(file: UploadFile) -> str:
    content = file.file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise Refusal.at(
            str(file.filename),
            WHOLE,
            f"must be at most {MOST_BYTES:,} bytes",
            "a job is a page or two of text",
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise Refusal.at(
            str(file.filename), WHOLE, "must be UTF-8 text", "save it as plain text"
        ) from problem
