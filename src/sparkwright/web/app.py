"""The workbench as one application: guard, sign-in, pages, API, and one shape for whatever is refused."""

from __future__ import annotations

import logging
import secrets
from base64 import b64decode
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import asynccontextmanager
from typing import Any
from urllib.parse import quote

from anyio import to_thread
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from sparkwright import __version__
from sparkwright.desk.knowledge_files import read_knowledge, shipped_knowledge
from sparkwright.errors import Problem, SparkwrightError, printable
from sparkwright.plan.planner import planned_without_hand
from sparkwright.shop import AtPlaceError, NotThereError, SavedElsewhereError, Shop, ShopError
from sparkwright.web import api, api_desk, api_drive, api_dyno, api_map, api_pulls, api_start
from sparkwright.web.guard import READING, Guard
from sparkwright.web.pages import PAGES
from sparkwright.web.pages.common import status_of, went
from sparkwright.web.reckoning import MOST_WAITING, RETRY_S, BusyError, HungUpError, Planner, Reckoner
from sparkwright.web.sessions import TOO_MANY_TRIES, WAIT_S, Sessions, TooManyTriesError, place_of
from sparkwright.web.settings import AUTHORITY, SIGN_IN, Settings
from sparkwright.web.steps import job_state
from sparkwright.web.view import later, page, path_of

COOKIE = "sparkwright"
OUR_FILES = "/static/"
API = "/api/"
APIS = (
    api.router,
    api_desk.router,
    api_drive.router,
    api_dyno.router,
    api_map.router,
    api_pulls.router,
    api_start.router,
)
AGAIN_AFTER_S = 30
"""When to ask again where the store can't be used; a choice."""
SIGN_IN_ENDED = "The sign-in has ended. Sign in again"

MOST_SENTENCES = 50
"""Of what can't be read so much is told at a time; a choice."""

MISREAD = {
    "literal_error": "must be {expected}",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "int_type": "must be a whole number",
    "float_parsing": "must be a number",
    "float_type": "must be a number",
    "finite_number": "must be a number that is known and finite",
    "string_type": "must be text",
    "string_too_short": "must have at least {min_length} letters",
    "string_too_long": "must have at most {max_length} letters",
    "greater_than_equal": "must be at least {ge}",
    "less_than_equal": "must be at most {le}",
    "extra_forbidden": "is not known here",
    "list_type": "must be a list",
    "json_invalid": "must be JSON",
    "too_many_keys": "must have at most {most} keys",
}

STATUS_SENTENCES = {
    404: "There is no such page. Perhaps the address was cut short, or the job is in another shop's store.",
    405: "This address can't be used that way.",
}


def create_app(
    shop: Shop, settings: Settings | None = None, *, planner: Planner = planned_without_hand
) -> FastAPI:
    """Build the workbench over a store.

    Parameters
    ----------
    shop : Shop
        Where jobs are kept; the caller closes it.
    settings : Settings, optional
        How it is served; for this machine alone when not given.
    planner : Planner, optional
        What plans a job: the planner itself, or one that remembers what it has planned.
    """
    settings = settings or Settings()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        reckoner = Reckoner(
            lambda fingerprint, found: shop.job_states.put(fingerprint, *job_state(found)), planner
        )
        app.state.reckoner = reckoner
        # An answer that waits for a plan has a thread of its own, besides those that the other pages need.
        to_thread.current_default_thread_limiter().total_tokens += MOST_WAITING
        yield
        reckoner.close()

    app = FastAPI(
        title="Sparkwright",
        version=__version__,
        summary="Jobs, plans and proof of ignition timing, as the pages show them.",
        description=api.DESCRIPTION,
        openapi_url="/api/v1/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.shop = shop
    app.state.settings = settings
    app.state.knowledge = read_knowledge(*settings.knowledge) if settings.knowledge else shipped_knowledge()
    app.state.sessions = Sessions(shop, settings.session_hours)
    for router in PAGES:
        app.include_router(router, include_in_schema=False)
    for router in APIS:
        app.include_router(router)
    app.add_exception_handler(SparkwrightError, _refused)
    app.add_exception_handler(BusyError, _busy)
    app.add_exception_handler(HungUpError, _hung_up)
    app.add_exception_handler(ClientDisconnect, _hung_up)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(HTTPException, _no_such_page)
    app.middleware("http")(_signed_in)
    app.middleware("http")(_without_traceback)
    app.add_middleware(Guard, settings=settings)
    return app


Next = Callable[[Request], Awaitable[Response]]


async def _signed_in(request: Request, go_on: Next) -> Response:
    """Let only people with the pass-phrase in where the workbench is shared."""
    path = path_of(request)
    if not request.app.state.settings.shared or path in (SIGN_IN, AUTHORITY) or path.startswith(OUR_FILES):
        return await go_on(request)
    # Both ask the store, and the second hashes slowly: neither may hold up everybody else.
    sessions: Sessions = request.app.state.sessions
    if await run_in_threadpool(sessions.holds, request.cookies.get(COOKIE, "")):
        return await go_on(request)
    if path.startswith(API):
        try:
            right = await run_in_threadpool(sessions.opens, _passphrase_sent(request), place_of(request))
        except TooManyTriesError:
            return later(refusal(request, 429, [TOO_MANY_TRIES]), WAIT_S)
        if right:
            await run_in_threadpool(sessions.note_program, place_of(request))
            return await go_on(request)
        answer = refusal(request, 401, ["The shop's pass-phrase is needed, as the password of HTTP Basic."])
        answer.headers["www-authenticate"] = 'Basic realm="Sparkwright", charset="UTF-8"'
        return answer
    if request.headers.get("hx-request") == "true":
        return refusal(request, 401, [f"{SIGN_IN_ENDED} in another window; what you typed is still here."])
    if request.method not in READING:
        again = "then load this page again: the browser asks whether to send once more what you typed."
        return refusal(
            request, 401, [f"{SIGN_IN_ENDED} in another window, {again}"], "Nothing was saved yet."
        )
    query = request.scope["query_string"].decode("latin-1")
    back = f"{path}?{query}" if query else path
    return RedirectResponse(f"{SIGN_IN}?back={quote(back)}", 303)


def _passphrase_sent(request: Request) -> str:
    kind, _, credentials = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "basic":
        return ""
    try:
        return b64decode(credentials, validate=True).decode().partition(":")[2]
    except ValueError:  # not base64, or not text
        return ""


async def _without_traceback(request: Request, go_on: Next) -> Response:
    """Turn a fault of ours into a sentence and a number to find it by in the log."""
    try:
        return await go_on(request)
    except SparkwrightError as problem:
        return await _refused(request, problem)
    except Exception:
        number = secrets.token_hex(4)
        logging.getLogger(__name__).exception("fault %s at %s", number, printable(path_of(request)))
        sentence = (
            "This is a fault of the program, not yours. What was saved before is safe. "
            f"It stands in the program's log as {number}."
        )
        return refusal(request, 500, [sentence])


def refusal(request: Request, status: int, sentences: Sequence[str], title: str = "") -> Response:
    """Say what was refused: as JSON to a program, as a page to a person, as a line to a part of a page.

    Parameters
    ----------
    request : Request
        The request that was refused, which says who asks: program, person or part of a page.
    status : int
        Status of HTTP.
    sentences : sequence of str
        What was refused, a sentence for each problem.
    title : str, optional
        What stands above them on a page.
    """
    if path_of(request).startswith(API):
        return JSONResponse({"schema": api.REFUSAL_SCHEMA, "problems": list(sentences)}, status)
    if request.headers.get("hx-request") == "true":
        return Response("\n".join(sentences), status, media_type="text/plain; charset=utf-8")
    values = {
        "title": title or "That could not be done.",
        "sentences": sentences,
        "back": "/",
        "back_words": "To the list of jobs",
    }
    return page(request, "says.html", values, status)


async def _refused(request: Request, problem: Exception) -> Response:
    sentences = problem.sentences if isinstance(problem, SparkwrightError) else (str(problem),)
    if isinstance(problem, SavedElsewhereError):
        return _saved_elsewhere(request, problem)
    if isinstance(problem, ShopError) and (problem.of_database or problem.of_full_disk):
        return _store_fails(request, problem)
    return refusal(request, 404 if isinstance(problem, NotThereError) else status_of(problem), sentences)


async def _busy(request: Request, problem: Exception) -> Response:
    return later(refusal(request, 503, [str(problem)], "Not now."), RETRY_S)


async def _hung_up(request: Request, problem: Exception) -> Response:
    """Answer nobody: whoever asked is gone, and nothing went wrong here."""
    return Response(status_code=400)


def _store_fails(request: Request, problem: ShopError) -> Response:
    """Say that the store can't be used and why; where it is, is for the log alone."""
    told = problem.on_this_machine if isinstance(problem, AtPlaceError) else str(problem)
    logging.getLogger(__name__).warning("at %s: %s", printable(path_of(request)), told)
    said = str(problem)
    sentence = said[:1].upper() + said[1:]
    title = "The shop's store can't be used just now."
    return later(refusal(request, status_of(problem), [sentence], title), AGAIN_AFTER_S)


def _saved_elsewhere(request: Request, collision: SavedElsewhereError) -> Response:
    """Show both to a person; tell a program what stands now and where its text is kept."""
    if not path_of(request).startswith(API):
        return went(request, f"/jobs/{collision.theirs.key}/kept/{collision.kept.id}")
    answer = {
        "schema": api.REFUSAL_SCHEMA,
        "problems": [str(collision)],
        "latest": api.revision_record(collision.theirs),
        "kept": collision.kept.id,
    }
    return JSONResponse(answer, 409)


async def _misread(request: Request, problem: Exception) -> Response:
    details = problem.errors() if isinstance(problem, RequestValidationError) else []
    sentences = [_misread_sentence(detail) for detail in details[:MOST_SENTENCES]]
    if len(details) > MOST_SENTENCES:
        sentences.append(f"And {len(details) - MOST_SENTENCES:,} more that can't be used.")
    return refusal(request, 422, sentences)


def _misread_sentence(detail: Mapping[str, Any]) -> str:
    """Say in our words what was wrong with one value of a request."""
    name = ".".join(str(step) for step in detail["loc"][1:]) or "what was sent"
    kind, context = detail["type"], detail.get("ctx", {})
    if kind == "missing":
        return str(Problem(name, None, "must be given"))
    must = MISREAD.get(kind, f"can't be used ({str(detail['msg']).lower()})").format_map(context)
    return str(Problem(name, repr(detail.get("input"))[:60], must))


async def _no_such_page(request: Request, problem: Exception) -> Response:
    status = problem.status_code if isinstance(problem, HTTPException) else 404
    sentence = (
        STATUS_SENTENCES.get(status) or str(getattr(problem, "detail", "")) or "That could not be done."
    )
    answer = refusal(request, status, [sentence])
    if status == 405:
        # A method that is refused comes with the list of those that are not (RFC 9110, section 15.5.6).
        answer.headers["allow"] = ", ".join(sorted(_methods_at(path_of(request))))
    return answer


def _methods_at(path: str) -> set[str]:
    routes = (route for router in (*PAGES, *APIS) for route in router.routes)
    return {
        method
        for route in routes
        if isinstance(route, APIRoute) and route.path_regex.match(path)
        for method in route.methods or ()
    }
