"""What belongs to the person at the screen: how they read, who they are, and our own files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, get_args

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException

from sparkwright.errors import Refusal
from sparkwright.units import System
from sparkwright.web.pages.common import own_address, said_by
from sparkwright.web.sessions import TOO_MANY_TRIES, WAIT_S, Sessions, TooManyTriesError, place_of
from sparkwright.web.settings import AUTHORITY
from sparkwright.web.view import Brightness, Shown, later, remembered, script_of, show, static_file

router = APIRouter()

YEAR_S = 365 * 24 * 3600
KEPT = {"cache-control": f"public, max-age={YEAR_S}, immutable"}
KINDS = {
    "css": "text/css; charset=utf-8",
    "html": "text/html; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "png": "image/png",
    "svg": "image/svg+xml",
    "ttf": "font/ttf",
    "webmanifest": "application/manifest+json",
}
FOR_ALL_PAGES = {"service-worker-allowed": "/"}
"""Lets the script that keeps our files stand in for every page, not only for those below its own address."""


@router.get("/static/{name}")
def static(name: str) -> Response:
    """Give one of our own files; its address changes with its content, so browsers may keep it."""
    ending = name.rpartition(".")[2]
    content = static_file(name) if ending in KINDS else None
    if content is None:
        raise HTTPException(404)
    headers = KEPT | (FOR_ALL_PAGES if name == "worker.js" else {})
    return Response(content, media_type=KINDS[ending], headers=headers)


@router.get("/static/{folder}/{version}/{name}")
def script(folder: str, version: str, name: str) -> Response:
    """Give one of our scripts that import each other; the version in its address changes with any of them."""
    content = script_of(folder, name)
    if content is None:
        raise HTTPException(404)
    return Response(content, media_type=KINDS["js"], headers=KEPT)


@router.get(AUTHORITY)
def authority(request: Request) -> Response:
    """Give the authority that a phone has to trust first, where the certificate is our own."""
    path = request.app.state.settings.authority
    if path is None:
        raise HTTPException(404)
    return Response(path.read_bytes(), media_type="application/x-x509-ca-cert")


@router.post("/reading")
def reading(
    request: Request,
    back: Annotated[str, Form()] = "/",
    units: Annotated[str, Form()] = "",
    brightness: Annotated[str, Form()] = "",
) -> Response:
    """Keep how a person reads: units and brightness."""
    answer = RedirectResponse(own_address(back), 303)
    asked = (("units", units, get_args(System)), ("brightness", brightness, get_args(Brightness)))
    for name, value, known in asked:
        if value and value not in known:
            raise Refusal.at(name, f'"{value[:40]}"', f"must be {' or '.join(known)}")
        if value:
            answer.set_cookie(name, value, YEAR_S, httponly=True, samesite="strict")
    return answer


@dataclass(frozen=True, kw_only=True)
class SignInPage(Shown):
    """What the page shows that asks for the pass-phrase."""

    template = "sign-in.html"

    back: str
    who: str = ""
    refused: str = ""


@router.get("/sign-in")
def sign_in_page(request: Request, back: str = "/") -> Response:
    """Ask for the shop's pass-phrase."""
    return show(request, SignInPage(back=own_address(back)))


@router.post("/sign-in")
def sign_in(
    request: Request,
    who: Annotated[str, Form()] = "",
    passphrase: Annotated[str, Form()] = "",
    back: Annotated[str, Form()] = "/",
) -> Response:
    """Let in whoever has the pass-phrase."""
    sessions: Sessions = request.app.state.sessions
    asked = SignInPage(back=own_address(back), who=who)
    try:
        name = said_by(who)
        refused = (
            "" if sessions.opens(passphrase, place_of(request)) else "This is not the shop's pass-phrase."
        )
    except Refusal as problem:
        refused = str(problem)
    except TooManyTriesError:
        return later(show(request, replace(asked, refused=TOO_MANY_TRIES), 429), WAIT_S)
    if refused:
        return show(request, replace(asked, refused=refused), 401)
    request.app.state.shop.log.note("sign-in", place_of(request), who=name)
    answer = RedirectResponse(own_address(back), 303)
    seconds = int(request.app.state.settings.session_hours * 3600)
    # Behind a proxy that speaks TLS the scheme is https, and the cookie never goes out in the open.
    secure = request.scope["scheme"] == "https"
    answer.set_cookie(
        "sparkwright", sessions.begin(), seconds, secure=secure, httponly=True, samesite="strict"
    )
    return remember(answer, name)


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End this sign-in, also for whoever copied its cookie."""
    request.app.state.sessions.end(request.cookies.get("sparkwright", ""))
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie("sparkwright", httponly=True, samesite="strict")
    return answer


def remember(answer: Response, who: str) -> Response:
    """Keep a person's name on their own screen, so that the next form has it.

    Parameters
    ----------
    answer : Response
        The answer that goes to the person.
    who : str
        Name as it was typed.
    """
    answer.set_cookie("who", remembered(who), YEAR_S, httponly=True, samesite="strict")
    return answer
