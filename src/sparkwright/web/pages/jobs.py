"""The list of jobs, and new ones from a file."""

from __future__ import annotations

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response

from sparkwright.errors import WHOLE, Refusal, SparkwrightError
from sparkwright.job.toml import MOST_BYTES
from sparkwright.web.pages.common import Who, Why, said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.view import page

router = APIRouter()

A_PAGE = 50


@router.get("/")
def jobs(request: Request, shop: TheShop, find: str = "", after: str = "") -> Response:
    """List the jobs with their state, the latest change first."""
    find = find[:80]
    lines = shop.jobs.lines(search=find, limit=A_PAGE + 1, after=after or None)
    shown = lines[:A_PAGE]
    return page(
        request,
        "jobs.html",
        {
            "lines": shown,
            "count": shop.jobs.count(search=find),
            "find": find,
            "more": shown[-1].key if len(lines) > A_PAGE else "",
        },
    )


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
    values = {"refused": refused, "who": who, "why": why, "text": text, "sent_as": sent_as}
    return page(request, "new-file.html", values, 422)


@router.get("/new/file")
def new_from_file_page(request: Request) -> Response:
    """Offer to bring a job in from a file."""
    values = {"refused": [], "who": "", "why": "", "text": "", "sent_as": secrets.token_hex(16)}
    return page(request, "new-file.html", values)


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
