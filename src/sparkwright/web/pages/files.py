"""Files of a job, kept byte for byte, and the archive of a whole job, out and in."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path, PureWindowsPath
from typing import Annotated, BinaryIO, Literal
from urllib.parse import quote

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response, StreamingResponse
from starlette.types import Receive, Scope, Send

from sparkwright.errors import Refusal
from sparkwright.shop import NotThereError, Shop
from sparkwright.web.pages.common import Who, said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import OfJob, TheShop
from sparkwright.web.sessions import place_of
from sparkwright.web.view import person_of

router = APIRouter(route_class=OfJob)

CHUNK_BYTES = 1 << 20


@router.post("/jobs/{key}/files")
def add(
    request: Request,
    shop: TheShop,
    key: str,
    file: UploadFile,
    kind: Annotated[Literal["readings", "drive", "other"], Form()] = "other",
    who: Who = "",
) -> Response:
    """Keep a file with the job."""
    if not file.filename:
        raise Refusal.at("file", None, "must be given", "choose a file first")
    # Some browsers send the folder as well; a file is kept under its own name.
    shop.files.attach(key, PureWindowsPath(file.filename).name, kind, file.file, who=said_by(who))
    return remember(went(request, f"/jobs/{key}/history"), who.strip())


@router.get("/jobs/{key}/files/{file_id}")
def give(request: Request, shop: TheShop, key: str, file_id: int) -> Response:
    """Give a file back as it came; a browser saves it and never runs or shows it."""
    found = shop.files.one(file_id)
    if found.key != key:
        raise NotThereError(f"There is no file {file_id} with this job; go back to its history.")
    source = shop.files.open(file_id)
    _note_download(request, shop, key, f"file {file_id}")
    return _download(source, found.name)


@router.get("/jobs/{key}/archive")
def archive(request: Request, shop: TheShop, key: str) -> Response:
    """Give the whole job as one archive."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "job.zip"
        shop.archives.write(key, target)
        # The open file outlives its folder, so nothing is left behind when the download ends or breaks off.
        kept = target.open("rb")
    _note_download(request, shop, key, "archive")
    return _download(kept, f"{key}.sparkwright.zip")


@router.post("/import")
def bring_in(request: Request, shop: TheShop, archive: UploadFile, who: Who = "") -> Response:
    """Take a whole job from its archive."""
    name = said_by(who)
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "job.zip"
        with source.open("wb") as target:
            shutil.copyfileobj(archive.file, target, CHUNK_BYTES)
        key = shop.archives.bring_in(source, who=name)
    shop.log.note("import", place_of(request), who=name, key=key)
    return remember(went(request, f"/jobs/{key}"), name)


def _note_download(request: Request, shop: Shop, key: str, about: str) -> None:
    shop.log.note("download", place_of(request), who=person_of(request).name, key=key, about=about)


def _download(source: BinaryIO, name: str) -> StreamingResponse:
    """Stream something as a download under its own name (RFC 6266, RFC 8187)."""
    disposition = f"attachment; filename*=UTF-8''{quote(name, safe='')}"
    return _Download(source, {"content-disposition": disposition})


class _Download(StreamingResponse):
    """An open file, closed when it has been taken or the person has hung up."""

    def __init__(self, source: BinaryIO, headers: Mapping[str, str]) -> None:
        super().__init__(_chunks(source), headers=headers, media_type="application/octet-stream")
        self._source = source

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        finally:
            self._source.close()


def _chunks(source: BinaryIO) -> Iterator[bytes]:
    while chunk := source.read(CHUNK_BYTES):
        yield chunk
