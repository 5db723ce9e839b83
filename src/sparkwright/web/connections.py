"""The connections that a workbench holds: how many, from whom, and how long one may take over a request.

A connection owes the header of a request once it is made or has begun one, then the request's body, and at
last it has to take the answer. Each has its deadline; who misses it is told so and let go. Where all places
are taken, the connection that has owed a header longest makes room, so that half-sent requests can't shut
anybody out. The limits are those of one process.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterable
from contextlib import AsyncExitStack
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

import h11
from starlette.types import Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from sparkwright.web.guard import READING

MOST_OPEN = 512
"""Connections at a time, where the machine allows that many; a choice, ten for each of fifty people."""
SHARE_OF_FILES = 2
"""One file in so many that the process may open is left to connections."""
USUAL_FILES = 256
"""Files a process may open where that can't be asked; the least of the usual systems."""


def most_open() -> int:
    """Give how many connections this process may hold: a safe share of the files it may open."""
    try:
        import resource

        files = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    except ImportError:
        files = USUAL_FILES
    return MOST_OPEN if files < 0 else max(8, min(MOST_OPEN, files // SHARE_OF_FILES))


@dataclass(frozen=True)
class Limits:
    """How many connections are held, and for how long one may keep us waiting; all are choices.

    Parameters
    ----------
    most : int
        Connections at a time.
    most_from_one : int
        Connections from one address; a browser opens six.
    most_pages_from_one : int
        Pages that one address has worked on at a time; further ones wait their turn, and one whose asker has
        hung up meanwhile is passed over. What is posted takes no turn, as half of it could hold one for long.
    header_s : float
        From the connection, or the first byte of a further request, to the end of its header.
    body_s : float
        For the body of a request, and so much more as its bytes so far earn it.
    least_bytes_s : float
        Bytes that earn a body one second more.
    taking_s : float
        For taking any part of an answer.
    refusing_s : float
        For taking a refusal; a connection that is refused must say something first, to hear it.
    """

    most: int = MOST_OPEN
    most_from_one: int = 64
    most_pages_from_one: int = 16
    header_s: float = 10.0
    body_s: float = 20.0
    least_bytes_s: float = 1000.0
    taking_s: float = 60.0
    refusing_s: float = 1.0


class Places:
    """The places that one server has for connections."""

    def __init__(self, limits: Limits, behind_proxy: str | None = None) -> None:
        """Begin with all free; the address of a proxy speaks for many people and has no limit of its own."""
        self.limits = limits
        self._behind_proxy = behind_proxy
        self._by_address: dict[str, set[Connection]] = {}
        self._turns: dict[str, asyncio.Semaphore] = {}
        self._count = 0

    def came(self, connection: Connection) -> tuple[int, str] | None:
        """Take a connection in; gives status and sentence where there is no place for it.

        Parameters
        ----------
        connection : Connection
            The connection that came.
        """
        address = connection.address
        own = self._by_address.setdefault(address, set())
        own.add(connection)
        self._count += 1
        too_many_from_one = address != self._behind_proxy and len(own) > self.limits.most_from_one
        if too_many_from_one and not self._made_room(own):
            return (
                429,
                f"{self.limits.most_from_one} connections from your address are open; close some first.",
            )
        everybody = (each for some in self._by_address.values() for each in some)
        if self._count > self.limits.most and not self._made_room(everybody):
            return 503, "Too many people are connected; try again in a few seconds."
        return None

    def went(self, connection: Connection) -> None:
        """Let a connection go.

        Parameters
        ----------
        connection : Connection
            The connection that ended.
        """
        own = self._by_address.get(connection.address, set())
        if connection in own:
            own.remove(connection)
            self._count -= 1
        if not own:
            self._by_address.pop(connection.address, None)
            self._turns.pop(connection.address, None)

    def turns(self, connection: Connection) -> asyncio.Semaphore:
        """Give what the pages of an address take turns at.

        Parameters
        ----------
        connection : Connection
            A connection, for its address.
        """
        proxy = connection.address == self._behind_proxy
        most = self.limits.most if proxy else self.limits.most_pages_from_one
        return self._turns.setdefault(connection.address, asyncio.Semaphore(most))

    @property
    def overfull(self) -> bool:
        """Whether there is no place even for saying so."""
        return self._count > self.limits.most + self.limits.most // 8

    @staticmethod
    def _made_room(among: Iterable[Connection]) -> bool:
        idle = [each for each in among if each.can_make_room]
        if not idle:
            return False
        # One that was answered before and is kept open belongs to somebody who comes back.
        min(idle, key=lambda each: (each.was_answered, each.idle_since_s)).make_room()
        return True


class Connection(H11Protocol):
    """One connection, with a deadline for whatever it owes."""

    places: Places
    """Set for each server by `connection_of`."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.idle_since_s = self.loop.time()
        self._application, self.app = self.app, self._in_turn
        self._refused: tuple[int, str] | None = None
        self._new = True
        self._owes: type[h11.IDLE] | type[h11.SEND_BODY] | None = None
        self._owes_since_s = 0.0
        self._bytes = 0
        self._deadline: asyncio.TimerHandle | None = None
        self._to_take = 0
        self._taking: asyncio.TimerHandle | None = None

    @property
    def address(self) -> str:
        """Where it comes from; one of the fourth version is written as such."""
        return self.client[0].removeprefix("::ffff:") if self.client else ""

    @property
    def can_make_room(self) -> bool:
        """Whether nothing of a request or an answer is lost when it is closed, save half a header."""
        if self._new or self._refused is not None or self.transport.is_closing():
            return False
        answering = self.cycle is not None and not self.cycle.response_complete
        return (
            not answering and self._owes is not h11.SEND_BODY and not self.transport.get_write_buffer_size()
        )

    @property
    def was_answered(self) -> bool:
        """Whether it has had an answer and begun nothing since."""
        return self.cycle is not None and self._owes is None

    async def _in_turn(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, a page when the turn of its address has come."""
        if scope["method"] not in READING:
            await self._application(scope, receive, send)
            return
        cycle = self.cycle
        async with AsyncExitStack() as turn:
            await turn.enter_async_context(self.places.turns(self))

            async def answer(message: Message) -> None:
                await turn.aclose()  # what is left is to be taken, and may be taken slowly
                await send(message)

            if not cycle.disconnected:
                await self._application(scope, receive, answer)

    def make_room(self) -> None:
        """Close, for somebody who may have a request."""
        self._log("closed a connection that sent nothing whole, to make room for others")
        self.transport.close()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Find a place for it, and wait for its first header.

        Parameters
        ----------
        transport : asyncio.Transport
            What carries the connection.
        """
        super().connection_made(transport)
        self._refused = self.places.came(self)
        self._new = False
        if self._refused is None:
            self._watch()
        elif self.places.overfull:
            transport.abort()
        else:
            self._log("refused a connection: %s", self._refused[1])
            self._deadline = self.loop.call_later(self._limits.refusing_s, transport.abort)

    def data_received(self, data: bytes) -> None:
        """Take what was sent; the first of it is answered at once where there is no place.

        Parameters
        ----------
        data : bytes
            Bytes as they came.
        """
        if self._refused is not None:
            self._say(*self._refused)
            return
        super().data_received(data)
        self._watch()
        self._bytes += len(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """Give its place back.

        Parameters
        ----------
        exc : Exception or None
            What ended it; None where it was closed in order.
        """
        super().connection_lost(exc)
        self.places.went(self)
        for timer in (self._deadline, self._taking):
            if timer is not None:
                timer.cancel()

    def on_response_complete(self) -> None:
        """See what is owed next: the rest of a request that came meanwhile, or that the answer is taken."""
        super().on_response_complete()
        self.idle_since_s = self.loop.time()
        came = len(self.conn.trailing_data[0])
        if came or self.conn.their_state is h11.SEND_BODY:
            self._watch()
            self._bytes += came
        if self.transport.get_write_buffer_size():
            self._see_whether_taken()

    def pause_writing(self) -> None:
        """Note that an answer is taken slowly."""
        super().pause_writing()
        self._see_whether_taken()

    def resume_writing(self) -> None:
        """Note that much of an answer was taken."""
        super().resume_writing()
        if self._taking is not None:
            self._taking.cancel()
            self._taking = None

    @property
    def _limits(self) -> Limits:
        return self.places.limits

    def _watch(self) -> None:
        """Set the deadline for what is owed now; one that runs already goes on."""
        state = self.conn.their_state
        owes = state if state in (h11.IDLE, h11.SEND_BODY) else None
        if owes is self._owes:
            return
        if self._deadline is not None:
            self._deadline.cancel()
        self._owes, self._owes_since_s, self._bytes = owes, self.loop.time(), 0
        if owes is h11.IDLE:
            self.idle_since_s = self._owes_since_s
            self._deadline = self.loop.call_later(self._limits.header_s, self._overdue)
        elif owes is h11.SEND_BODY:
            self._deadline = self.loop.call_later(self._limits.body_s, self._overdue)

    def _overdue(self) -> None:
        if self._owes is h11.IDLE:
            if self._bytes:
                self._log("closed a connection whose header didn't come within %g s", self._limits.header_s)
                self._say(408, f"The request's header didn't come within {self._limits.header_s:g} seconds.")
            else:
                self.transport.close()  # a browser opens some ahead of use, and expects no answer on them
            return
        earned_s = self._limits.body_s + self._bytes / self._limits.least_bytes_s
        left_s = self._owes_since_s + earned_s - self.loop.time()
        if self.flow.read_paused:  # it is we who are slow
            left_s = self._limits.body_s
        if left_s > 0.0:
            self._deadline = self.loop.call_later(left_s, self._overdue)
            return
        least = self._limits.least_bytes_s
        self._log("closed a connection whose request came more slowly than %g bytes a second", least)
        self._say(408, "What you sent came too slowly and was not taken. Nothing was saved; send it again.")

    def _say(self, status: int, sentence: str) -> None:
        """Answer past the application, where nothing of an answer was sent yet, and close."""
        begun = self.cycle is not None and self.cycle.response_started and not self.cycle.response_complete
        if not begun and not self.transport.is_closing():
            self.transport.write(_answer(status, sentence))
        self.transport.close()

    def _see_whether_taken(self) -> None:
        """Let go of an answer of which nothing is taken for long."""
        if self._taking is None:
            self._to_take = self.transport.get_write_buffer_size()
            self._taking = self.loop.call_later(self._limits.taking_s, self._not_taken)

    def _not_taken(self) -> None:
        self._taking = None
        before, now = self._to_take, self.transport.get_write_buffer_size()
        if now and now >= before:
            self._log("closed a connection that took nothing of its answer for %g s", self._limits.taking_s)
            self.transport.abort()
        elif now:
            self._see_whether_taken()

    def _log(self, what: str, *values: object) -> None:
        logging.getLogger(__name__).warning(f"%s: {what}", self.address, *values)


def connection_of(places: Places) -> type[Connection]:
    """Give the protocol of a server, whose connections share these places.

    Parameters
    ----------
    places : Places
        Places that all connections of the server share.
    """

    class ConnectionOfServer(Connection):
        pass

    ConnectionOfServer.places = places
    return ConnectionOfServer


def _answer(status: int, sentence: str) -> bytes:
    body = f"{sentence}\n".encode()
    header = (
        f"HTTP/1.1 {status} {HTTPStatus(status).phrase}\r\n"
        "content-type: text/plain; charset=utf-8\r\n"
        f"content-length: {len(body)}\r\n"
        "cache-control: no-store\r\n"
        "retry-after: 5\r\n"
        "connection: close\r\n\r\n"
    )
    return header.encode() + body
